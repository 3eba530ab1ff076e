"""What an answer rests on: values that were filled in, the model, and the supply as it was taken."""

from typing import Annotated

from msgspec import Struct

from feedproof.contract.estimates import ConductorName, UnitName
from feedproof.contract.words import example


class Assumption(Struct, frozen=True, kw_only=True):
    """A value that the request left out and the service filled in."""

    pointer: Annotated[str, example("/meters/dmm/input_impedance")]
    """JSON pointer (RFC 6901) to where the request would state it."""
    value: Annotated[float | str | bool, example(10e6, words="PlainValue")]
    """What was taken, in `unit`."""
    unit: Annotated[str | None, example("ohm")]
    """Unit of the value. Null: it has none."""
    basis: Annotated[str, example("typical of a high-impedance voltmeter")]
    """Where the value comes from."""


class ModelRelease(Struct, frozen=True, kw_only=True):
    """Which model answered: the same request to the same model gives the same bytes."""

    version: Annotated[str, example("0.1.0")]
    """Version of the model."""
    priors_digest: Annotated[str, example("9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    """SHA-256 of the published priors, hexadecimal."""


class ModelIdentity(ModelRelease, frozen=True, kw_only=True):
    """Which model answered which request."""

    request_digest: Annotated[str | None, example("26ca84ce35e85fbb463a453ac0d9109a3fb42131efa8b8c451aed5e2dcd9b535")]
    """SHA-256 of the request in canonical JSON (RFC 8785), hexadecimal: which request this answers, however it was
    written. Null: no request, or one that was read elsewhere."""


class LegVoltage(Struct, frozen=True, kw_only=True):
    """One leg of the supply against the grounded point at the panel."""

    conductor: ConductorName
    voltage: Annotated[float, example(121.5)]
    """[V]; scaled to the leg-to-leg reading where there is one, else nominal."""
    angle: Annotated[float, example(180.0)]
    """Phase against leg L1 [deg]."""
    unit: UnitName


class AssessedSupply(Struct, frozen=True, kw_only=True):
    """The supply that the readings were taken to come from."""

    system: Annotated[str, example("split_phase_120_240", words="SupplySystemCode")]
    """Supply system (see `/v1/supply-systems`)."""
    frequency: Annotated[float, example(60.0)]
    """Line frequency [Hz]."""
    legs: Annotated[list[LegVoltage], example([{"conductor": "L1", "voltage": 121.5, "angle": 0.0, "unit": "V"}])]
    """The legs."""
