"""The supply of a request: what is known of it, its cable and the appliance before any reading."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.quantities import LINE_FREQUENCY, RUN_LENGTH, RUN_TEMPERATURE, quantity
from feedproof.contract.words import (
    ApplianceKind,
    EquipmentGround,
    FedFrom,
    Material,
    NeutralPresence,
    ReceptacleName,
    SourceKind,
    SupplySystem,
    example,
)

SIZE_PATTERN = (
    "^(?:(?:[1-4]/0|[1-9]|1[0-9]|20) ?AWG|(?:2[5-9][0-9]|[3-9][0-9]{2}|1000) ?kcmil"
    "|(?:(?:[1-9][0-9]?|[1-4][0-9]{2})(?:\\.[0-9]{1,2})?|500) ?mm[2\u00b2])$"
)

SIZE_FORM = {"accepted": "a size such as '6 AWG', '1/0 AWG', '250 kcmil' or '16 mm2'"}
"""What a fault of the form names as accepted, where the pattern itself would not help a person."""


class Run(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The branch circuit's cable from the panel that it leaves to the receptacle, as far as it is known."""

    size: Annotated[
        Annotated[str, Meta(max_length=12, pattern=SIZE_PATTERN, extra=SIZE_FORM)] | None, example("6 AWG", "16 mm2")
    ] = None
    """Conductor size, in AWG, kcmil or mm2 (see `/v1/conductors`). Left out: not known."""
    material: Annotated[Material | None, example("copper")] = None
    """Conductor material. Left out: not known."""
    length: Annotated[float | str | None, quantity(RUN_LENGTH, "18 m", 18)] = None
    """One-way length from that panel to the receptacle. Left out: not known."""
    temperature: Annotated[float | str | None, quantity(RUN_TEMPERATURE, "35 degC", 35)] = None
    """Temperature of the conductor. Left out: not known."""


class Supply(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is known of the supply before any reading."""

    system: Annotated[SupplySystem | None, example("split_phase_120_240")] = None
    """Supply system at the outlet (see `/v1/supply-systems`). Left out: `single_phase_120` where the receptacle has one
    leg, else `split_phase_120_240`."""
    frequency: Annotated[float | str | None, quantity(LINE_FREQUENCY, 60, "60 Hz")] = None
    """Line frequency. Left out: 60 Hz."""
    equipment_ground: Annotated[EquipmentGround | None, example("present")] = None
    """Whether the outlet has an equipment ground conductor. Left out: as the receptacle has it, else `unknown`. Where
    it is `absent`, readings to `G` at the receptacle are refused; read to `metalwork`."""
    frame_bonded_to_neutral: Annotated[bool | None, Meta(examples=[False])] = None
    """Whether the appliance's frame is bonded to its neutral. Left out: not known."""
    neutral: Annotated[NeutralPresence | None, example("present")] = None
    """Whether the outlet, or the wiring of an appliance without one, has a neutral. Left out: as the receptacle has it;
    else `absent` of a water heater, an air conditioner, a heat pump or a pump of which no reading or load is to `N`,
    and `present` of any other. Where it is `absent`, readings to `N` are taken at a panel only."""
    fed_from: Annotated[FedFrom | None, example("sub_panel")] = None
    """The panel that the branch circuit leaves: the service panel; a sub-panel, where neutral and ground are apart
    (apartment, outbuilding, mobile home behind its pedestal); or `sub_panel_bonded`, where they are joined again (an
    older detached building). Left out: `unknown`."""
    source: Annotated[SourceKind | None, example("utility")] = None
    """What feeds the building. Left out: `utility`."""
    receptacle: Annotated[ReceptacleName | None, example("14-50R")] = None
    """NEMA WD 6 designation of the receptacle (see `/v1/receptacles`), or `hardwired`. It decides which conductors
    there are to read; what contradicts it is refused. Left out: not known."""
    run: Annotated[Run | None, example({"size": "6 AWG", "material": "copper", "length": "18 m"})] = None
    """The branch circuit's cable."""


class Appliance(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The appliance: what its loads usually are, and what can be asked of it."""

    kind: Annotated[ApplianceKind, example("range")]
    """What it is."""
