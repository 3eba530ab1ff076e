"""The columns that a fleet's readings come in and its assessments go out in, as documented Arrow schemas.

Readings come in one of two forms. *Nested*: one row for each reading set, shaped like a request to the service.
*Long*: one row for each reading, as a spreadsheet or a database table would hold it; all rows of one set stand
together, numbered from 0. Every field but those marked as needed may be null or left out, which means what leaving it
out of a request means. A quantity is a number in the unit given, or in a text column a text with a unit, as in
a request ("247 V").

Assessments go out in one row for each set, in flat columns, the same ones always. Each field carries its meaning as
metadata, under `description`; `describe` prints them.
"""

from typing import Any

import pyarrow as pa

from feedproof.faults.catalogue import FAULTS

TEXT, NUMBER, WHOLE, TRUTH = pa.string(), pa.float64(), pa.int64(), pa.bool_()

CONDUCTORS = ("L1", "L2", "N", "G")
FAULT_ORDER: tuple[str, ...] = tuple(fault.name for fault in FAULTS)
"""Faults in the order of their columns."""


def _field(name: str, kind: pa.DataType, description: str) -> Any:  # noqa: ANN401
    return pa.field(name, kind, metadata={"description": description})


_RUN = [
    _field("size", TEXT, "Conductor size, `6 AWG` or `16 mm2`."),
    _field("material", TEXT, "`copper` or `aluminum`."),
    _field("length", NUMBER, "One-way length from service panel to receptacle [m]."),
    _field("temperature", NUMBER, "Of the conductor [degC]."),
]
_SUPPLY = [
    _field("system", TEXT, "Supply system, as the service lists them; `split_phase_120_240` where null."),
    _field("frequency", NUMBER, "[Hz]; 60 where null."),
    _field("equipment_ground", TEXT, "`present`, `absent` or `unknown`."),
    _field("frame_bonded_to_neutral", TRUTH, "Null: not known."),
]
_METER = [
    _field("kind", TEXT, "`voltmeter`, `proximity_detector`, `clamp_ammeter` or `ohmmeter`. Needed."),
    _field("input_impedance", NUMBER, "Of a voltmeter [ohm]."),
    _field("input_capacitance", NUMBER, "Of a voltmeter [F]."),
    _field("accuracy_percent", NUMBER, "Limit of error, share of the reading [%]."),
    _field("accuracy_counts", NUMBER, "Limit of error, counts of the resolution [1]."),
    _field("resolution", NUMBER, "Smallest step shown, in the unit of the reading."),
    _field("threshold", NUMBER, "Of a proximity detector [V]."),
]
_LOAD = [
    _field("between", pa.list_(TEXT), "Two conductors."),
    _field("power", NUMBER, "Rated power at nominal voltage [W]; this or the resistance."),
    _field("resistance", NUMBER, "[ohm]"),
    _field("reactance", NUMBER, "[ohm], inductive positive."),
    _field("tolerance_percent", NUMBER, "Limit of error of its impedance [%]."),
]
_LOAD_STATE = [
    _field("kind", TEXT, "`disconnected`, `idle`, `running` or `test_load`. Needed."),
    _field("loads", pa.list_(pa.struct(_LOAD)), "Known loads."),
]
_VALUE = _field("value", NUMBER, "What was read [V, A or ohm]; null for proximity.")
_READING_TAIL = [
    _field("meter", TEXT, "The meter's label. Needed."),
    _field("load_state", TEXT, "The load state's label, or a kind's own name. Needed."),
    _field("point", TEXT, "`service_panel`, `receptacle` (where null) or `appliance_terminals`."),
    _field("supply", TEXT, "`isolated` for a resistance: it is read on an isolated circuit only."),
    _field("over_range", TRUTH, "The ohmmeter showed no end; `value` is then its highest range."),
]
_READING = [
    _field("kind", TEXT, "`voltage`, `proximity`, `current` or `resistance`. Needed."),
    _field("between", pa.list_(TEXT), "Two conductors, for a voltage or a resistance."),
    _field("at", TEXT, "The conductor, for proximity."),
    _field("through", TEXT, "The conductor, for a current."),
    _VALUE,
    _field("detected", TRUTH, "Whether the proximity detector signalled."),
    *_READING_TAIL,
]

NESTED = pa.schema(
    [
        _field("reference", TEXT, "The caller's own reference, given back."),
        _field("supply", pa.struct([*_SUPPLY, _field("run", pa.struct(_RUN), "The cable.")]), "The supply."),
        _field("meters", pa.map_(TEXT, pa.struct(_METER)), "Meters by the caller's labels."),
        _field("load_states", pa.map_(TEXT, pa.struct(_LOAD_STATE)), "Load states by the caller's labels."),
        _field("readings", pa.list_(pa.struct(_READING)), "The readings. Needed; may be empty."),
        _field("base_rates", pa.map_(TEXT, NUMBER), "Base rate by fault, in place of the model's own."),
    ]
)
"""One row for each reading set."""

LOADS_BETWEEN: tuple[tuple[str, str], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))
"""Pairs whose known load has a column in the long form."""

LONG = pa.schema(
    [
        _field("reference", TEXT, "Which set the reading belongs to, given back. Needed."),
        _field("reading", WHOLE, "Number of the reading in its set, from 0. Needed."),
        *(field.with_name(f"supply_{field.name}") for field in _SUPPLY),
        *(field.with_name(f"run_{field.name}") for field in _RUN),
        _field("kind", TEXT, "`voltage`, `proximity`, `current` or `resistance`. Needed."),
        _field("conductor", TEXT, "The conductor, or the first of two. Needed."),
        _field("other_conductor", TEXT, "The second conductor, for a voltage or a resistance."),
        _VALUE,
        _field("detected", TRUTH, "Whether the proximity detector signalled."),
        _field("point", TEXT, "`service_panel`, `receptacle` (where null) or `appliance_terminals`."),
        _field("isolated", TRUTH, "True for a resistance: it is read on an isolated circuit only."),
        _field("over_range", TRUTH, "The ohmmeter showed no end; `value` is then its highest range."),
        _field("meter", TEXT, "The meter's label. Needed."),
        *(field.with_name(f"meter_{field.name}") for field in _METER),
        _field("load_state", TEXT, "The load state's label, or a kind's own name. Needed."),
        _field(
            "load_state_kind", TEXT, "`disconnected`, `idle`, `running` or `test_load`; null for a kind's own name."
        ),
        *(
            _field(f"load_power_{a}_{b}".lower(), NUMBER, f"Known load between {a} and {b} in this state [W].")
            for a, b in LOADS_BETWEEN
        ),
        _field("load_tolerance_percent", NUMBER, "Limit of error of these loads [%]."),
    ]
)
"""One row for each reading; what describes the set, a meter or a load state is repeated on its rows."""


def _estimate(name: str, unit: str, what: str) -> list[Any]:
    return [
        _field(name, NUMBER, f"{what}: posterior median [{unit}]."),
        _field(f"{name}_low", NUMBER, f"Lower end of its 90 % credible interval [{unit}]."),
        _field(f"{name}_high", NUMBER, f"Upper end of its 90 % credible interval [{unit}]."),
    ]


ASSESSED = pa.schema(
    [
        _field("row", WHOLE, "First row of the set in what was read, counted from 1."),
        _field("reference", TEXT, "The caller's own reference."),
        _field("refused", TEXT, "Why the row was not assessed; then all that follows is null."),
        _field("supply_system", TEXT, "Stated supply system, or the default."),
        _field("readings", pa.int32(), "How many readings the set has."),
        _field("layout", TEXT, "Which readings they are: kind, conductors, point, load state, kind of meter."),
        _field("finding", TEXT, "The most probable state of the supply."),
        _field("finding_conductor", TEXT, "The conductor that it sits on."),
        _field("finding_location", TEXT, "Where, as far as the readings tell."),
        _field("finding_also", TEXT, "Further faults of the same finding, `fault:conductor`, parted by spaces."),
        _field("finding_probability", NUMBER, "Of the finding as named here [1]."),
        _field("finding_log_evidence", NUMBER, "Of the finding as named here [nat]."),
        _field("determination", TEXT, "`established`, `probable` or `undetermined`."),
        _field("disposition", TEXT, "`stop_and_refer`, `take_more_readings` or `no_supply_fault_found`."),
        _field("caution_codes", TEXT, "Cautions, most severe first, parted by spaces."),
        _field("check_codes", TEXT, "Readings that no circuit gives together: what does not fit, parted by spaces."),
        _field("supply_fault_probability", NUMBER, "That the supply has any fault at all [1]."),
        *(
            _field(f"probability_{f}", NUMBER, f"Of {f}, on any conductor, also beside another [1].")
            for f in FAULT_ORDER
        ),
        *(
            _field(f"log_evidence_{f}", NUMBER, f"Of {f}, all its places and second faults by their shares [nat].")
            for f in FAULT_ORDER
        ),
        *_estimate(
            "neutral_to_ground", "V", "Neutral to the grounded point at the panel, in the state where it is highest"
        ),
        _field("neutral_to_ground_state", TEXT, "Kind of that load state."),
        *(
            field
            for c in ("L1", "L2", "N")
            for field in (
                *_estimate(f"resistance_{c.lower()}", "ohm", f"Series resistance of {c} from the panel"),
                _field(f"resistance_{c.lower()}_bound", TEXT, "`two_sided`, `at_least` or `at_most`."),
                _field(f"resistance_{c.lower()}_informed", TRUTH, "Whether readings, and not what is usual, set it."),
            )
        ),
        *_estimate("heat", "W", "Heat in the path that is hottest at the load current"),
        _field("heat_conductor", TEXT, "Which path that is."),
        *(
            _field(
                f"detection_limit_{c.lower()}",
                NUMBER,
                f"Smallest series resistance in {c} that the readings would have shown [ohm]; null: none would have.",
            )
            for c in CONDUCTORS
        ),
        _field("open_neutral_would_show", TRUTH, "Whether an open neutral (1 kohm or more) would have shown."),
        _field("reference_voltage", NUMBER, "First reading of the leg-to-leg voltage, on one leg leg to neutral [V]."),
        _field("reference_meter", TEXT, "Label of the voltmeter that it was read with."),
        _field("reference_tolerance", NUMBER, "That meter's limit of error there, as a share of the reading [1]."),
        _field("model_version", TEXT, "Version of the model."),
        _field("priors_digest", TEXT, "SHA-256 of the priors, the base rates among them."),
    ]
)
"""One row for each reading set assessed, or refused."""

FORMS: dict[str, pa.Schema] = {"nested": NESTED, "long": LONG, "assessed": ASSESSED}


def assessed(keep: pa.Schema | None = None) -> pa.Schema:
    """Columns that go out, with columns of the caller's own in front.

    Parameters
    ----------
    keep : pyarrow.Schema, optional
        Columns of the input to carry along: a region, a model, an outlet, a part that was replaced.

    Returns
    -------
    pyarrow.Schema
        Those, and `ASSESSED`.

    Raises
    ------
    ValueError
        If a column to keep has the name of one that the assessment has.
    """
    if keep is None:
        return ASSESSED
    taken = sorted(set(keep.names) & set(ASSESSED.names))
    if taken or len(set(keep.names)) != len(keep.names):
        raise ValueError(f"columns to keep must have names of their own: {', '.join(taken) or 'one is named twice'}")
    return pa.schema([*keep, *ASSESSED])


def form_of(names: list[str]) -> str:
    """`nested` or `long`, by the names of the columns.

    Raises
    ------
    ValueError
        If they are neither.
    """
    if "readings" in names:
        return "nested"
    if {"reference", "reading", "kind"} <= set(names):
        return "long"
    raise ValueError(
        "neither form: the nested one has a column `readings`, the long one has `reference`, `reading` and `kind`"
    )


def describe(schema: pa.Schema) -> str:
    """Text of a schema: a line for each column, with its type and meaning; structures are indented."""

    def lines(fields: list[Any], indent: str) -> list[str]:
        found = []
        for field in fields:
            meaning = (field.metadata or {}).get(b"description", b"").decode()
            inner, word = field.type, ""
            while pa.types.is_list(inner) or pa.types.is_map(inner):
                word += "list of " if pa.types.is_list(inner) else "map from text to "
                inner = inner.value_type if pa.types.is_list(inner) else inner.item_type
            nested = pa.types.is_struct(inner)
            found.append(f"{indent}{field.name}: {word}{'structure' if nested else inner}. {meaning}")
            if nested:
                found += lines([inner.field(i) for i in range(inner.num_fields)], indent + "    ")
        return found

    return "\n".join(lines(list(schema), "")) + "\n"
