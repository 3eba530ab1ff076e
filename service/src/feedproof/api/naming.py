"""Component schemas of what has no type of its own to name it: lists of words, quantities, and unions.

Generators make a type of each component, and one of each place where the same is written out. Answers are open: a later
service may say other words than those known today.
"""

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from msgspec import Struct

from feedproof.advice.places import PARENTS, PARTIES, TOPS
from feedproof.advice.texts import caution_texts, safety_texts
from feedproof.contract import estimates, meters, request, simulation, words
from feedproof.contract.quantities import MAX_LENGTH, QUANTITIES, SCHEMA_KEY, Quantity
from feedproof.contract.words import WORDS, WORDS_KEY
from feedproof.faults.catalogue import FAULTS
from feedproof.instruments.typical import TYPICAL_METERS


class WordList(Struct, frozen=True):
    """One list: what its words say, and those known today."""

    about: str
    values: tuple[str, ...]


def _list(about: str, values: Iterable[str]) -> WordList:
    return WordList(f"{about} The list may grow.", tuple(values))


ANSWER_WORDS: Mapping[str, WordList] = {
    "Determination": _list("How far the readings decide.", get_args(estimates.Determination)),
    "ConfidenceLevel": _list("How far a finding can be leaned on.", get_args(estimates.ConfidenceLevel)),
    "Bound": _list("On which sides the readings bound an estimate.", get_args(estimates.Bound)),
    "Disposition": _list("What to do with the job.", get_args(estimates.Disposition)),
    "Flag": _list("How a reading lies to what a sound supply shows.", get_args(estimates.Flag)),
    "NextReason": _list("Why there is nothing to read next.", get_args(estimates.NextReason)),
    "Severity": _list("How grave a caution is.", get_args(estimates.Severity)),
    "FaultCode": _list("A state of the supply (see `/v1/faults`).", (fault.name for fault in FAULTS)),
    "PlaceCode": _list("A place of the tree of places.", (*TOPS, *PARENTS)),
    "DegreeCode": _list("How bad a joint or a conductor is.", ("open", "high_resistance")),
    "PartyCode": _list("Who must act.", PARTIES),
    "CautionCode": _list("A caution (see `/v1/cautions`).", (caution.code for caution in caution_texts())),
    "HazardCode": _list("A hazard of taking a reading.", (hazard.code for hazard in safety_texts().reading_hazards)),
    "CheckCode": _list(
        "What does not fit between readings.",
        (
            "sum_below_whole", "repeat_disagrees", "proximity_disagrees", "off_the_line", "currents_do_not_close",
            "current_with_nothing_connected", "resistance_on_live_conductor", "not_explained",
            "current_on_ground", "too_low_to_run",
        ),
    ),
    "SectionCode": _list("A section of the way from the source.", ("service", "feeder", "branch")),
    "ToldBy": _list("What an estimate rests on.", ("readings", "prior")),
    "ConductorCode": _list("A conductor, or metalwork of unknown connection.", get_args(words.TerminalName)),
    "PointCode": _list("A point along the run.", get_args(words.PointName)),
    "ReadingKind": _list("What kind of reading it is.", ("voltage", "proximity", "current", "resistance")),
    "LoadStateCode": _list("The appliance's condition.", get_args(words.LoadStateKind)),
    "MeterCode": _list("A common kind of meter (see `/v1/meters`).", (meter.name for meter in TYPICAL_METERS)),
    "SupplySystemCode": _list("A supply system (see `/v1/supply-systems`).", get_args(words.SupplySystem)),
    "ObservationWord": _list("An observation (see `/v1/observations`).", get_args(words.ObservationCode)),
    "FaultOfRequest": _list(
        "What is wrong with a request.",
        (
            "contradiction", "decimal_comma", "direct_current", "given_twice", "misleading_label", "missing",
            "no_load_connected", "no_such_conductor", "not_a_number", "not_a_quantity", "not_accepted",
            "not_connected", "not_finite", "not_simulated", "one_of", "out_of_bounds", "over_range",
            "quantity_too_long", "same_conductor", "too_many_unknowns", "too_much_work", "undefined_load_state",
            "undefined_meter", "undefined_reading", "unit_missing", "unknown_fault", "unknown_field", "unknown_unit",
            "wrong_dimension", "wrong_kind_of_meter", "wrong_length", "wrong_type",
        ),
    ),
}  # fmt: skip
"""Every list of words of answers by its name in the published document."""

BY_VALUES: Mapping[frozenset[str], str] = {frozenset(known.values): name for name, known in ANSWER_WORDS.items()}


def word_list(name: str) -> dict[str, object]:
    """Component schema of a word list: text, with the words known today beside it, so that others are taken too."""
    known = ANSWER_WORDS[name]
    return {
        "description": known.about,
        "type": "string",
        "examples": list(known.values[:1]),
        "x-known-values": list(known.values),
    }


Schema = dict[str, Any]

REFERENCE = "#/components/schemas/{name}"

UNIONS: Mapping[str, tuple[Any, str]] = {
    "Reading": (request.Reading, "A reading, told apart by its `kind`."),
    "Meter": (meters.Meter, "A meter, told apart by its `kind`."),
    "AskedReading": (simulation.Asked, "A reading to take, told apart by its `kind`."),
    "ObservationItem": (request.ObservationItem, "An observation: its code, or an object where there is more to say."),
}
"""Unions by their name in the document, with what they hold."""


def reference(name: str) -> Schema:
    """Refer to a component schema."""
    return {"$ref": REFERENCE.format(name=name)}


def _quantity(kind: Quantity, examples: list[Any]) -> Schema:
    return {
        "description": (
            f"{kind.dimension.article.capitalize()}: a number in {kind.dimension.unit}, or a string with a unit of"
            f" `/v1/units`. From {kind.span}: {kind.why}."
        ),
        "oneOf": [
            {"type": "number", "minimum": kind.low, "maximum": kind.high},
            {"type": "string", "maxLength": MAX_LENGTH, "pattern": kind.pattern},
        ],
        "examples": examples,
        "x-unit": kind.dimension.unit,
    }


def name_of_quantity(name: str) -> str:
    """Name of a quantity's component: `read_voltage` is ReadVoltage."""
    return "".join(part.capitalize() for part in name.split("_"))


_BY_VALUES = {frozenset(get_args(words)): name for name, (words, _) in WORDS.items()}
_BY_MEMBERS = {
    frozenset(_BY_VALUES.get(frozenset(get_args(kind))) or kind.__name__ for kind in get_args(union)): name
    for name, (union, _) in UNIONS.items()
}


def _member(branch: Schema) -> str:
    return str(branch.get("$ref", "")).rpartition("/")[2] or _BY_VALUES.get(frozenset(branch.get("enum", ())), "")


def refer(node: Schema, made: dict[str, Schema]) -> None:
    """Put a reference where a closed list, a quantity or a union stands, and note the component that it needs.

    Parameters
    ----------
    node : dict
        One schema of a request, as the types give it; changed in place.
    made : dict
        Components by name; those that are new are added.
    """
    if SCHEMA_KEY in node:
        key = node.pop(SCHEMA_KEY)
        name = name_of_quantity(key)
        made.setdefault(name, _quantity(QUANTITIES[key], node["examples"]))
        node["x-unit"] = QUANTITIES[key].dimension.unit
        optional = {"type": "null"} in node.pop("anyOf")
        node |= {"anyOf": [reference(name), {"type": "null"}]} if optional else reference(name)
    elif (name := _BY_VALUES.get(frozenset(node.get("enum", ())), "")) != "":
        words, about = WORDS[name]
        values = list(get_args(words))
        made.setdefault(name, {"description": about, "type": "string", "enum": values, "examples": values[:1]})
        del node["enum"]
        node |= reference(name)
    elif (name := _BY_MEMBERS.get(frozenset(map(_member, node.get("anyOf", ()))), "")) != "":
        union: Schema = {key: node.pop(key) for key in ("anyOf", "discriminator") if key in node}
        made.setdefault(name, {"description": UNIONS[name][1], "oneOf": union.pop("anyOf"), **union})
        node |= reference(name)


PLAIN_VALUE = "PlainValue"
_PLAIN_VALUE: Schema = {
    "description": "A number, a text or a truth value.",
    "oneOf": [{"type": "number"}, {"type": "string"}, {"type": "boolean"}],
    "examples": ["unknown"],
}


def refer_words(node: Schema, made: dict[str, Schema]) -> None:
    """Put a reference where a list of words of answers stands, and note the component that it needs.

    Parameters
    ----------
    node : dict
        One schema of an answer, as the types give it; changed in place.
    made : dict
        Components by name; those that are new are added.
    """
    name = str(node.pop(WORDS_KEY, "")) or BY_VALUES.get(frozenset(node.get("enum", ())), "")
    if not name:
        return
    made.setdefault(name, _PLAIN_VALUE if name == PLAIN_VALUE else word_list(name))
    optional = {"type": "null"} in node.pop("anyOf", ())
    for key in ("type", "enum"):
        node.pop(key, None)
    node |= {"anyOf": [reference(name), {"type": "null"}]} if optional else reference(name)
