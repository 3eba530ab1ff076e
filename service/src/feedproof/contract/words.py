"""What the parts of a request have in common: limits, text, labels, and the closed lists of words."""

from typing import Annotated, Literal

from msgspec import Meta

MAX_READINGS = 200
MAX_METERS = 20
MAX_LOAD_STATES = 50
MAX_LOADS = 20
MAX_BASE_RATES = 50
MAX_OBSERVATIONS = 20
MAX_LABEL = 64
MAX_REFERENCE = 200
MAX_VISIT_TEXT = 120

NO_CONTROLS = "^[^\\u0000-\\u001f\\u007f-\\u009f\\u2028-\\u202e\\u2066-\\u2069]*$"
"""Neither control characters nor line separators nor marks that turn the direction of writing."""

TEXT_FORM = {"accepted": "text without control characters"}
"""What a fault of the form names as accepted, where the pattern itself would not help a person."""

ConductorName = Literal["L1", "L2", "N", "G"]
TerminalName = Literal["L1", "L2", "N", "G", "metalwork"]
PointName = Literal["service_panel", "sub_panel", "panel", "receptacle", "appliance_terminals"]
SupplySystem = Literal["split_phase_120_240", "wye_120_208", "single_phase_120", "high_leg_delta_120_240"]
EquipmentGround = Literal["present", "absent", "unknown"]
NeutralPresence = Literal["present", "absent"]
FedFrom = Literal["service_panel", "sub_panel", "sub_panel_bonded", "unknown"]
SourceKind = Literal["utility", "generator", "unknown"]
ReceptacleName = Literal[
    "1-15R",
    "2-20R", "2-30R",
    "5-15R", "5-20R", "5-30R", "5-50R",
    "6-15R", "6-20R", "6-30R", "6-50R",
    "10-20R", "10-30R", "10-50R",
    "14-15R", "14-20R", "14-30R", "14-50R", "14-60R",
    "TT-30R",
    "L5-15R", "L5-20R", "L5-30R",
    "L6-15R", "L6-20R", "L6-30R",
    "L10-20R", "L10-30R",
    "L14-20R", "L14-30R",
    "hardwired",
]  # fmt: skip
Material = Literal["copper", "aluminum"]
ApplianceKind = Literal[
    "range", "dryer", "water_heater", "air_conditioner", "heat_pump", "vehicle_charger", "pump", "other"
]
LoadStateKind = Literal["disconnected", "idle", "running", "test_load"]
ObservationCode = Literal[
    "breaker_found_tripped",
    "lights_brighten_and_dim",
    "scorched_or_discoloured",
    "works_when_moved",
    "other_circuits_live",
    "other_circuits_dead",
    "ground_fault_breaker_tripped",
]
LightsWhere = Literal["same_panel", "whole_building"]

WORDS_KEY = "x-words"
"""Where a field's schema names its list of words until the document is built."""


def example(*values: object, words: str | None = None) -> Meta:
    """Give examples of a field, which its docstring describes; `words` names the list that its words are from."""
    return Meta(examples=list(values), extra_json_schema=None if words is None else {WORDS_KEY: words})


WORDS: dict[str, tuple[object, str]] = {
    "ConductorName": (ConductorName, "A conductor: a leg, the neutral, or the equipment ground."),
    "TerminalName": (TerminalName, "A conductor, or metalwork of which nobody knows whether it is grounded."),
    "PointName": (PointName, "A point along the run, from the source downstream."),
    "SupplySystem": (SupplySystem, "A supply system (see `/v1/supply-systems`)."),
    "EquipmentGround": (EquipmentGround, "Whether there is an equipment ground conductor."),
    "NeutralPresence": (NeutralPresence, "Whether there is a neutral."),
    "FedFrom": (FedFrom, "The panel that the branch circuit leaves."),
    "SourceKind": (SourceKind, "What feeds the building."),
    "ReceptacleName": (ReceptacleName, "A receptacle by its NEMA WD 6 designation (see `/v1/receptacles`)."),
    "Material": (Material, "What a conductor is made of."),
    "ApplianceKind": (ApplianceKind, "What the appliance is."),
    "LoadStateKind": (LoadStateKind, "The appliance's condition."),
    "ObservationCode": (ObservationCode, "Something seen or told (see `/v1/observations`)."),
    "LightsWhere": (LightsWhere, "Where lights brighten and dim."),
}
"""Every closed list by its name in the published document, with what it holds."""


def _label(description: str, *examples: str) -> Meta:
    return Meta(
        min_length=1,
        max_length=MAX_LABEL,
        pattern=NO_CONTROLS,
        extra=TEXT_FORM,
        description=description,
        examples=list(examples),
    )


Label = Annotated[str, _label("A name of the caller's own. 1 to 64 characters, no control characters.", "dmm")]
MeterLabel = Annotated[str, _label("The meter: a name in `meters`, of a kind that can take this reading.", "dmm")]
StateLabel = Annotated[
    str,
    _label(
        "The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`,"
        " `test_load`). Readings under one label are taken as readings of one circuit.",
        "disconnected",
    ),
]
