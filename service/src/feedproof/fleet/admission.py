"""Rows of a table through the service's own parsing.

Rows become a request and go the way that every request goes: the same defaults, the same bounds, the same refusals.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import msgspec
import pyarrow as pa

from feedproof.contract import request as wire
from feedproof.errors import RefusedRequest, RequestError
from feedproof.fleet.schema import LOADS_BETWEEN, LONG, NESTED, STRUCTURES, WIDE_READING, others
from feedproof.instruments.typical import LOW_IMPEDANCE_VOLTMETER
from feedproof.parsing import Admitted, admit
from feedproof.parsing.admission import open_diagnostics
from feedproof.parsing.structure import convert, examine
from feedproof.readings import LOADED_STATES

Document = dict[str, Any]

_OF_METER = tuple(name for name in LONG.names if name.startswith("meter_"))
_OF_STATE = tuple(name for name in LONG.names if name.startswith("load_") and name != "load_state")
_OF_SET = tuple(name for name in LONG.names[2 : LONG.names.index("conductor")])
_READ_AS_IT_IS = tuple(name for name in NESTED.field("readings").type.value_type.names if name in LONG.names)
_MOST_FAULTS = 5
_LONGEST_REASON = 1000


class Refused(RequestError):
    """Rows that are no reading set."""


def admit_rows(form: str, rows: Sequence[Document]) -> Admitted:
    """A reading set from its rows.

    Parameters
    ----------
    form : str
        `nested`, `long` or `wide`.
    rows : sequence of dict
        One, or in the long form one for each reading. Null means left out, and a map may be a dict or a list of pairs.

    Returns
    -------
    Admitted
        In SI units, with the assumptions made for it.

    Raises
    ------
    Refused
        With what is wrong, where, and what is accepted; also if rows contradict each other in what they say of the
        set, a meter or a load state.
    """
    strange = sorted({name for row in rows for name in others(row, form)}) if form != "nested" else []
    if strange:
        raise Refused(f"columns that the {form} form does not have: {', '.join(strange)}")
    structured = {name for row in rows for name, cell in row.items() if isinstance(cell, Mapping | list)}
    nested = sorted(structured - {"base_rates"})
    if nested and form != "nested":
        raise Refused(f"{', '.join(nested)}: a list or an object, where the {form} form has one value")
    given = _without_nulls(_long(rows) if form == "long" else _wide(rows[0]) if form == "wide" else rows[0])
    for name in ("meters", "load_states", "base_rates"):
        if isinstance(given.get(name), list):
            given[name] = _from_pairs(given[name], name)
    try:
        try:
            return admit(msgspec.convert(given, wire.AssessmentRequest, strict=True))
        except msgspec.ValidationError:
            examined = examine(given, wire.AssessmentRequest)
        return admit(convert(examined, wire.AssessmentRequest), open_diagnostics(examined))
    except RefusedRequest as error:
        raise Refused(reason(error)) from None
    except msgspec.ValidationError as error:
        raise Refused(f"not of the published form: {error}") from None


def reason(error: RefusedRequest) -> str:
    """Why a request was refused, on one line: the first few of its faults."""
    told = [f"{fault.pointer or '(the whole row)'}: {fault.detail}" for fault in error.faults[:_MOST_FAULTS]]
    more = error.count - _MOST_FAULTS
    text = "; ".join([*told, f"and {more} more"] if more > 0 else told)
    return " ".join(text.split())[:_LONGEST_REASON]


def check_columns(names: Iterable[str], form: str, keep: Iterable[str]) -> None:
    """Refuse columns that no one reads: a misspelled one must not pass unread.

    Raises
    ------
    ValueError
        With the columns that are neither of the form nor to be kept.
    """
    kept = set(keep)
    strange = [name for name in others(names, form) if name not in kept]
    if strange:
        raise ValueError(
            f"columns that the {form} form does not have: {', '.join(strange)}; keep or ignore them by name"
        )


def _long(rows: Sequence[Document]) -> Document:
    for index, row in enumerate(rows):
        if row.get("reading") != index:
            raise Refused(
                f"reading {row.get('reading')} where {index} should stand: number the readings of a set from 0, keep"
                " its rows together and in order (sort by reference, reading), with a reference of its own"
            )
    _agree(rows, _OF_SET, "of one set")
    meters, states = {}, {}
    for label, row in _agreed(rows, "meter", _OF_METER):
        meters[label] = _gathered(row, "meter_", STRUCTURES["meter"]) or {}
    for label, row in _agreed(rows, "load_state", _OF_STATE):
        kind, loads = row.get("load_state_kind"), _loads(row)
        if kind is not None or loads:
            states[label] = {"kind": label if kind is None else kind, "loads": loads or None}
    return _of_set(rows[0]) | {"meters": meters, "load_states": states, "readings": [_reading(row) for row in rows]}


def _wide(row: Document) -> Document:
    label = str(row.get("meter") or "voltmeter")
    # A label of the caller's own may be one of these: the other meter then has another.
    others_own = (f"{label[:40]}, low impedance", "clamp")
    labels = (label, *(f"{name} 2" if name == label else name for name in others_own))
    own = {"kind": "voltmeter"} | _without_nulls(_gathered(row, "meter_", STRUCTURES["meter"]) or {})
    typical = LOW_IMPEDANCE_VOLTMETER.figure("input_impedance").value
    low = {"kind": "voltmeter", "input_impedance": row.get("meter_low_impedance") or typical}
    meters = dict(zip(labels, (own, low, {"kind": "clamp_ammeter"}), strict=True))
    readings = []
    for name, value in row.items():
        found = WIDE_READING.fullmatch(name)
        if found is None or value is None:
            continue
        conductors = [c if c == "metalwork" else c.upper() for c in found["conductors"].split("_")]
        taken: Document = {"kind": "voltage", "between": conductors, "meter": labels[1 if found["low"] else 0]}
        if len(conductors) == 1:
            taken = {"kind": "current", "through": conductors[0], "meter": labels[2]}
        readings.append(taken | {"value": value, "load_state": found["state"], "point": found["point"]})
    used, loads = {reading["meter"] for reading in readings}, _loads(row)
    return _of_set(row) | {
        "meters": {name: meter for name, meter in meters.items() if name in used},
        "load_states": {kind: {"kind": kind, "loads": loads} for kind in LOADED_STATES if loads},
        "readings": readings,
    }


def _of_set(row: Document) -> Document:
    """What a row of the long or the wide form says of its set."""
    made: Document = {name: row.get(name) for name in ("reference", "base_rates")}
    for field in NESTED:
        if pa.types.is_struct(field.type):
            made[field.name] = _gathered(row, f"{field.name}_", field.type)
        elif pa.types.is_list(field.type) and isinstance(row.get(field.name), str):
            parted = (code.partition(":") for code in row[field.name].split())
            made[field.name] = [{"code": code, "where": more or None} for code, _, more in parted]
    return made


def _gathered(row: Document, prefix: str, kind: Any) -> Document | None:  # noqa: ANN401
    """A structure from its columns, where one holds something; the run's columns have a short name of their own."""
    made = {}
    for field in kind:
        if pa.types.is_struct(field.type):
            within = "run_" if field.name == "run" else f"{prefix}{field.name}_"
            made[field.name] = _gathered(row, within, field.type)
        else:
            made[field.name] = row.get(prefix + field.name)
    return made if any(value is not None for value in made.values()) else None


def _loads(row: Document) -> list[Document]:
    found = []
    for a, b in LOADS_BETWEEN:
        power, tolerance = (row.get(f"load_{what}_{a}_{b}".lower()) for what in ("power", "tolerance_percent"))
        if power is not None:
            found.append({"between": [a, b], "power": power, "tolerance_percent": tolerance})
    return found


def _reading(row: Document) -> Document:
    read: Document = {name: row.get(name) for name in _READ_AS_IT_IS}
    if row.get("kind") in {"proximity", "current"}:
        read["at" if row["kind"] == "proximity" else "through"] = row.get("conductor")
        read["between"] = row.get("other_conductor")
    else:
        read["between"] = [c for c in (row.get("conductor"), row.get("other_conductor")) if c is not None]
    return read | {"supply": "isolated" if row.get("isolated") else None}


def _agreed(rows: Sequence[Document], column: str, columns: Sequence[str]) -> Iterator[tuple[str, Document]]:
    """Each label of a column with the first of its rows, which must say of it what the others say."""
    for label in dict.fromkeys(row.get(column) for row in rows):
        if isinstance(label, str):
            own = [row for row in rows if row.get(column) == label]
            _agree(own, columns, f"of {column.replace('_', ' ')} {label!r}")
            yield label, own[0]


def _agree(rows: Sequence[Document], columns: Sequence[str], what: str) -> None:
    for name in columns:
        if any(row.get(name) != rows[0].get(name) for row in rows[1:]):
            raise Refused(f"{name}: the rows {what} say different things")


def _from_pairs(pairs: list[Any], name: str) -> Document:
    found: Document = {}
    for pair in pairs:
        if not isinstance(pair, tuple | list) or len(pair) != 2 or not isinstance(pair[0], str):  # noqa: PLR2004
            raise Refused(f"/{name}: not a map")
        if pair[0] in found:
            raise Refused(f"/{name}: {pair[0]!r} is there twice")
        found[pair[0]] = _without_nulls(pair[1])
    return found


def _without_nulls(value: Any) -> Any:  # noqa: ANN401
    """Without what is left out, and without structures of nothing else, as tables have them in every row."""
    if isinstance(value, Mapping):
        return {name: _without_nulls(inner) for name, inner in value.items() if inner is not None}
    if isinstance(value, list):
        return [_without_nulls(inner) for inner in value]
    return value
