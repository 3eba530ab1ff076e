"""Rows of a table through the service's own door.

A row becomes a request and goes the way that every request goes: the same defaults, the same bounds, the same refusals.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec

from feedproof.contract import request as wire
from feedproof.contract.structure import convert, examine
from feedproof.door import Admitted, admit
from feedproof.door.admission import open_ledger
from feedproof.errors import RefusedRequest, RequestError
from feedproof.fleet.schema import LOADS_BETWEEN, LONG, NESTED

Document = dict[str, Any]

_SET_COLUMNS = tuple(
    name for name in LONG.names if name.startswith(("supply_", "run_")) or name in {"appliance_kind", "observations"}
)
_METER_COLUMNS = tuple(name for name in LONG.names if name.startswith("meter_"))
_MOST_FAULTS = 5
_LONGEST_REASON = 1000


class Refused(RequestError):
    """A row that is no reading set."""


def admit_nested(document: Document) -> Admitted:
    """A reading set from one nested row.

    Parameters
    ----------
    document : dict
        Shaped like a request; null means left out, and a map may be a dict or a list of pairs.

    Returns
    -------
    Admitted
        In SI units, with the assumptions made for it.

    Raises
    ------
    Refused
        With what is wrong, where, and what is accepted.
    """
    given = _without_nulls(document)
    for name in ("meters", "load_states", "base_rates"):
        if isinstance(given.get(name), list):
            given[name] = _from_pairs(given[name], name)
    try:
        try:
            return admit(msgspec.convert(given, wire.AssessmentRequest, strict=True))
        except msgspec.ValidationError:
            examined = examine(given, wire.AssessmentRequest)
        return admit(convert(examined, wire.AssessmentRequest), open_ledger(examined))
    except RefusedRequest as error:
        raise Refused(reason(error)) from None
    except msgspec.ValidationError as error:
        raise Refused(f"not of the published form: {error}") from None


def admit_long(rows: Sequence[Document]) -> Admitted:
    """A reading set from the rows of its readings.

    Parameters
    ----------
    rows : sequence of dict
        With the columns of `feedproof.fleet.schema.LONG`; all of one set.

    Returns
    -------
    Admitted
        In SI units, with the assumptions made for it.

    Raises
    ------
    Refused
        If rows contradict each other in what they say of the set, a meter or a load state, or the set is no
        valid request.
    """
    for index, row in enumerate(rows):
        if row.get("reading") != index:
            raise Refused(
                f"reading {row.get('reading')} where {index} should stand: number the readings of a set from 0 and"
                " keep its rows together"
            )
    first = rows[0]
    _agree(rows, _SET_COLUMNS, "of one set")
    supply = {name.removeprefix("supply_"): first.get(name) for name in _SET_COLUMNS if name.startswith("supply_")}
    supply["run"] = {name.removeprefix("run_"): first.get(name) for name in _SET_COLUMNS if name.startswith("run_")}
    meters, states = {}, {}
    for label, own in _by(rows, "meter"):
        _agree(own, _METER_COLUMNS, f"of meter {label!r}")
        meters[label] = _meter({name.removeprefix("meter_"): own[0].get(name) for name in _METER_COLUMNS})
    for label, own in _by(rows, "load_state"):
        loads = [f"load_power_{a}_{b}".lower() for a, b in LOADS_BETWEEN]
        _agree(own, ("load_state_kind", *loads, "load_tolerance_percent"), f"of load state {label!r}")
        known = [
            {"between": [a, b], "power": own[0][name], "tolerance_percent": own[0].get("load_tolerance_percent")}
            for name, (a, b) in zip(loads, LOADS_BETWEEN, strict=True)
            if own[0].get(name) is not None
        ]
        kind = own[0].get("load_state_kind")
        if kind is not None or known:
            states[label] = {"kind": label if kind is None else kind, "loads": known or None}
    return admit_nested(
        {
            "reference": first.get("reference"),
            "supply": supply,
            "appliance": None if first.get("appliance_kind") is None else {"kind": first["appliance_kind"]},
            "meters": meters,
            "load_states": states,
            "readings": [_reading(row) for row in rows],
            "observations": _observations(first.get("observations")),
            "base_rates": first.get("base_rates"),
        }
    )


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
    known = {*(NESTED if form == "nested" else LONG).names, *keep}
    if form == "long":
        known.add("base_rates")
    strange = [name for name in names if name not in known]
    if strange:
        raise ValueError(
            f"columns that the {form} form does not have: {', '.join(strange)}; keep or ignore them by name"
        )


_AS_THEY_ARE = ("kind", "value", "meter", "load_state", "point", "id", "repeats", "over_range")


def _meter(cells: Document) -> Document:
    proved = {name: cells.pop(f"proved_{name}") for name in ("before", "after")}
    return cells | {"proved": None if all(value is None for value in proved.values()) else proved}


def _observations(text: Any) -> Any:  # noqa: ANN401
    """Codes with or without a place out of one cell; what is no text is left for the door to refuse."""
    if not isinstance(text, str):
        return text
    parted = (seen.partition(":") for seen in text.split())
    return [{"code": code, "where": where or None} for code, _, where in parted]


def _reading(row: Document) -> Document:
    kind = row.get("kind")
    read: Document = {name: row.get(name) for name in _AS_THEY_ARE}
    if kind in {"proximity", "current"}:
        read["at" if kind == "proximity" else "through"] = row.get("conductor")
        read["between"] = None if row.get("other_conductor") is None else row["other_conductor"]
    else:
        read["between"] = [c for c in (row.get("conductor"), row.get("other_conductor")) if c is not None]
    read["detected"] = row.get("detected")
    read["supply"] = "isolated" if row.get("isolated") else None
    return read


def _by(rows: Sequence[Document], column: str) -> list[tuple[str, list[Document]]]:
    found: dict[str, list[Document]] = {}
    for row in rows:
        label = row.get(column)
        if isinstance(label, str):
            found.setdefault(label, []).append(row)
    return list(found.items())


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
    if isinstance(value, Mapping):
        return {name: _without_nulls(inner) for name, inner in value.items() if inner is not None}
    if isinstance(value, list):
        return [_without_nulls(inner) for inner in value]
    return value
