"""The columns that a fleet's readings come in and its assessments go out in, as documented Arrow schemas.

Readings come in one of three forms. *Nested*: one row for each reading set, shaped like a request to the service.
*Long*: one row for each reading, as a spreadsheet would hold it; all rows of one set stand together, numbered from 0.
*Wide*: one row for each visit with a column for each pair of conductors and load state, as a database would hold it.
The columns are made from the request's own types, so a field of a request has its column here. Every field but those
marked as needed may be null or left out, which means what leaving it out of a request means. A quantity is a number in
the unit given, or in a text column a text with a unit, as in a request ("247 V").

Assessments go out in one row for each set, in flat columns, the same ones always. Each field carries its meaning as
metadata, under `description`; `describe` prints them.
"""

import re
from collections import Counter
from collections.abc import Iterable
from typing import Any, get_args

import pyarrow as pa
import pyarrow.compute as pc
from msgspec import inspect

from feedproof.contract import request as wire
from feedproof.contract.quantities import field_docs
from feedproof.contract.words import LoadStateKind, PointName, TerminalName
from feedproof.faults.catalogue import FAULTS
from feedproof.readings import CONDUCTORS

TEXT, NUMBER, WHOLE, TRUTH = pa.string(), pa.float64(), pa.int64(), pa.bool_()

FAULT_ORDER: tuple[str, ...] = tuple(fault.name for fault in FAULTS)
"""Faults in the order of their columns."""
_PLAIN: dict[type, pa.DataType] = {
    inspect.FloatType: NUMBER,
    inspect.IntType: WHOLE,
    inspect.BoolType: TRUTH,
    inspect.StrType: TEXT,
    inspect.LiteralType: TEXT,
}


def _field(name: str, kind: pa.DataType, description: str) -> Any:  # noqa: ANN401
    return pa.field(name, kind, metadata={"description": description})


def _said(field: Any) -> str:  # noqa: ANN401
    return str((field.metadata or {}).get(b"description", b"").decode())


def _arrow(kind: inspect.Type) -> pa.DataType:
    """Type of the column that holds what a request's field may hold."""
    if isinstance(kind, inspect.Metadata):
        return _arrow(kind.type)
    if isinstance(kind, inspect.ListType):
        return pa.list_(_arrow(kind.item_type))
    if isinstance(kind, inspect.DictType):
        return pa.map_(TEXT, _arrow(kind.value_type))
    kinds = kind.types if isinstance(kind, inspect.UnionType) else (kind,)
    structures = [each for each in kinds if isinstance(each, inspect.StructType)]
    if structures:
        return pa.struct(_fields(structures))
    found = [_arrow(each) for each in kinds if isinstance(each, inspect.Metadata | inspect.ListType | inspect.DictType)]
    # A number may also be a text with its unit, and stands first.
    return next(iter(found), None) or next(_PLAIN[each] for each in _PLAIN if any(isinstance(k, each) for k in kinds))


def _fields(structures: Iterable[inspect.StructType]) -> list[Any]:
    """Fields of structures of which one is given, told apart by their tag."""
    found: dict[str, tuple[pa.DataType, list[str]]] = {}
    for structure in structures:
        if structure.tag_field is not None:
            found.setdefault(structure.tag_field, (TEXT, []))[1].append(f"`{structure.tag}`")
        docs = field_docs(structure.cls)
        for field in structure.fields:
            meta = field.type.extra_json_schema if isinstance(field.type, inspect.Metadata) else None
            said = docs.get(field.name) or str((meta or {}).get("description", ""))
            said += " Needed." if field.required else ""
            told = found.setdefault(field.name, (_arrow(field.type), []))[1]
            told += [said] if said not in told else []
    between = {name: ", " if told[0].startswith("`") else " Or: " for name, (_, told) in found.items()}
    return [_field(name, kind, between[name].join(told)) for name, (kind, told) in found.items()]


_REQUEST = inspect.type_info(wire.AssessmentRequest)
NESTED = pa.schema(_fields([_REQUEST]) if isinstance(_REQUEST, inspect.StructType) else [])
"""One row for each reading set."""


def _flat(prefix: str, kind: Iterable[Any], *without: str) -> list[Any]:
    """Fields of a structure, and of those within it, as columns of one table."""
    found = []
    for field in kind:
        if pa.types.is_struct(field.type):
            found += _flat(f"{prefix}{field.name}_", field.type)
        elif field.name not in without:
            found.append(field.with_name(prefix + field.name))
    return found


LOADS_BETWEEN: tuple[tuple[str, str], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"))
"""Pairs whose known load has a column in the long and the wide form."""
STRUCTURES: dict[str, Any] = {
    "supply": NESTED.field("supply").type,
    "meter": NESTED.field("meters").type.item_type,
}
"""Structures that the columns of the long and the wide form are of."""
_RUN = next(field.type for field in STRUCTURES["supply"] if field.name == "run")
_READING = NESTED.field("readings").type.value_type
_SET = [
    *_flat("", pa.struct([f for f in NESTED if pa.types.is_struct(f.type) and f.name != "supply"])),
    *(field for field in _flat("supply_", STRUCTURES["supply"]) if not field.name.startswith("supply_run_")),
    *_flat("run_", _RUN),
    *(
        _field(field.name, TEXT, f"{_said(field)} As text: codes parted by spaces, with `:`"
               " and what more there is.")
        for field in NESTED
        if pa.types.is_list(field.type) and field.name != "readings"
    ),
]  # fmt: skip
_METER = _flat("meter_", STRUCTURES["meter"])
_LOADS = [
    field
    for a, b in LOADS_BETWEEN
    for pair in (f"{a}_{b}".lower(),)
    for field in (
        _field(f"load_power_{pair}", NUMBER, f"Known load between {a} and {b}, rated at nominal voltage [W]."),
        _field(f"load_tolerance_percent_{pair}", NUMBER, "Limit of error of that load [%]."),
    )
]
LONG = pa.schema(
    [
        _field("reference", TEXT, "Which set the reading belongs to, given back; no other set has it. Needed."),
        _field("reading", WHOLE, "Number of the reading in its set, from 0. Needed."),
        *_SET,
        _field("conductor", TEXT, "The conductor, or the first of two. Needed."),
        _field("other_conductor", TEXT, "The second conductor, for a voltage or a resistance."),
        *_flat("", _READING, "between", "at", "through", "supply"),
        _field("isolated", TRUTH, "True for a resistance: it is read on an isolated circuit only."),
        *_METER,
        _field("load_state_kind", TEXT, "`disconnected`, `idle`, `running`, `test_load`; null for a kind's own name."),
        *_LOADS,
    ]
)
"""One row for each reading; what describes the set, a meter or a load state is repeated on its rows."""

WIDE = pa.schema(
    [
        NESTED.field("reference"),
        *_SET,
        _field("meter", TEXT, "Label of the voltmeter; `voltmeter` where null."),
        *(field for field in _METER if field.name != "meter_threshold"),
        _field(
            "meter_low_impedance", NUMBER, "Its input impedance in columns that end in it [ohm]; 3 kohm where null."
        ),
        *_LOADS,
        _field(
            "l1_n_disconnected",
            NUMBER,
            "An example: any pair of conductors and any load state, then the point where it is not the receptacle, then"
            " `low_impedance` where read in that mode: `l2_n_idle_appliance_terminals`, `l1_n_idle_low_impedance` [V];"
            " one conductor for a clamp: `l1_running` [A]. Known loads are those of `running` and `test_load`.",
        ),
    ]
)
"""One row for each visit."""
_ONE = f"(?:{'|'.join(get_args(TerminalName)).lower()})"
WIDE_READING = re.compile(
    rf"(?P<conductors>{_ONE}(?:_{_ONE})?)_(?P<state>{'|'.join(get_args(LoadStateKind))})"
    rf"(?:_(?P<point>{'|'.join(get_args(PointName))}))?(?:_(?P<low>low_impedance))?"
)
"""Names of the columns with readings of the wide form."""


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
        _field("finding", TEXT, "The most probable fault at the finding's place."),
        _field("finding_place", TEXT, "Where the trouble is: the narrowest place that the readings hold."),
        _field("finding_degree", TEXT, "`open` or `high_resistance`, where it is told."),
        _field("finding_conductor", TEXT, "The conductor that it sits on."),
        _field("finding_location", TEXT, "Where, as far as the readings tell."),
        _field("finding_also", TEXT, "Further faults of the same finding, `fault:conductor`, parted by spaces."),
        _field("finding_probability", NUMBER, "Of the finding as named here [1]."),
        _field("finding_log_evidence", NUMBER, "Of the finding as named here [nat]."),
        _field("determination", TEXT, "`established`, `probable` or `undetermined`."),
        _field(
            "disposition", TEXT, "`stop_and_refer`, `repair_and_retest`, `take_more_readings`, `no_supply_fault_found`."
        ),
        _field("refer_to", TEXT, "Who must act: `utility`, `electrician`, `technician`, parted by spaces."),
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
        _field("reference_voltage", NUMBER, "First leg-to-leg reading without a load, on one leg leg to neutral [V]."),
        _field("reference_meter", TEXT, "Label of the voltmeter that it was read with."),
        _field("reference_tolerance", NUMBER, "That meter's limit of error there, as a share of the reading [1]."),
        _field("model_version", TEXT, "Version of the model."),
        _field("priors_digest", TEXT, "SHA-256 of the priors, the base rates among them."),
    ]
)
"""One row for each reading set assessed, or refused."""

FORMS: dict[str, pa.Schema] = {"nested": NESTED, "long": LONG, "wide": WIDE, "assessed": ASSESSED}
_KNOWN = {form: frozenset((*schema.names, "base_rates")) for form, schema in FORMS.items()}


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
        If a column to keep has the name of another, or of one that the assessment has.
    """
    if keep is None:
        return ASSESSED
    check_alike([*keep.names, *ASSESSED.names])
    return pa.schema([*(field.with_type(plain(field.type)) for field in keep), *ASSESSED])


def plain(kind: pa.DataType) -> pa.DataType:
    """The type that a column's values are carried in: text of any make is text, and times have microseconds."""
    if isinstance(kind, pa.DictionaryType):
        return kind if kind == pa.dictionary(pa.int32(), TEXT) else plain(kind.value_type)
    if pa.types.is_timestamp(kind) and kind.unit == "ns":
        return pa.timestamp("us", kind.tz)
    return TEXT if pa.types.is_string_view(kind) or pa.types.is_large_string(kind) else kind


def plainly(batch: pa.RecordBatch) -> pa.RecordBatch:
    """A batch with its columns in the types that values are carried in."""
    for place, field in enumerate(batch.schema):
        kind = plain(field.type)
        if kind != field.type:
            batch = batch.set_column(place, field.with_type(kind), _cast(batch.column(place), kind))
    return batch


def _cast(column: Any, kind: pa.DataType) -> Any:  # noqa: ANN401
    if isinstance(column, pa.DictionaryArray):
        # Categories that are views must be made plain before they are put in the rows.
        column = pa.DictionaryArray.from_arrays(column.indices, _cast(column.dictionary, kind))
    return pc.cast(column, kind, safe=False)


def check_alike(names: Iterable[str]) -> None:
    """Refuse names that are the same, or differ in their case only: SQL takes one for the other.

    Raises
    ------
    ValueError
        With these names.
    """
    number = Counter(name.lower() for name in names)
    alike = sorted(name for name in number if number[name] > 1)
    if alike:
        raise ValueError(f"columns must differ in more than upper and lower case, and from ours: {', '.join(alike)}")


def form_of(names: Iterable[str]) -> str:
    """`nested`, `long` or `wide`, by the names of the columns.

    Raises
    ------
    ValueError
        If they are none of them.
    """
    given = set(names)
    if "readings" in given:
        return "nested"
    if {"reference", "reading", "kind"} <= given:
        return "long"
    if any(WIDE_READING.fullmatch(name) for name in given):
        return "wide"
    raise ValueError(
        "no form of readings: the nested one has a column `readings`, the long one `reference`, `reading` and `kind`,"
        " the wide one columns such as `l1_n_idle`"
    )


def others(names: Iterable[str], form: str) -> list[str]:
    """Names of columns that a form does not have: the caller's own."""
    known = _KNOWN[form]
    return [name for name in names if name not in known and not (form == "wide" and WIDE_READING.fullmatch(name))]


def own_columns(schema: pa.Schema) -> pa.Schema:
    """The caller's own columns of a table of readings, to be kept."""
    names = others(schema.names, form_of(schema.names))
    return pa.schema([schema.field(name) for name in names])


def describe(fields: Iterable[Any], indent: str = "") -> str:
    """Text of a schema: a line for each column, with its type and meaning; structures are indented."""
    text = ""
    for field in fields:
        inner, word = field.type, ""
        while pa.types.is_list(inner) or pa.types.is_map(inner):
            word += "list of " if pa.types.is_list(inner) else "map from text to "
            inner = inner.value_type if pa.types.is_list(inner) else inner.item_type
        nested = pa.types.is_struct(inner)
        text += f"{indent}{field.name}: {word}{'structure' if nested else inner}. {_said(field)}\n"
        text += describe(inner, indent + "    ") if nested else ""
    return text
