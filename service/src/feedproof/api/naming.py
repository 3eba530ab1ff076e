"""Component schemas of what has no type of its own to name it: closed lists, quantities, and unions.

Generators make a type of each component, and one of each place where the same is written out.
"""

from collections.abc import Mapping
from typing import Any, get_args

from feedproof.api import vocabulary
from feedproof.contract import meters, request, simulation
from feedproof.contract.quantities import MAX_LENGTH, QUANTITIES, SCHEMA_KEY, Quantity
from feedproof.contract.words import WORDS, WORDS_KEY

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
    name = str(node.pop(WORDS_KEY, "")) or vocabulary.BY_VALUES.get(frozenset(node.get("enum", ())), "")
    if not name:
        return
    made.setdefault(name, _PLAIN_VALUE if name == PLAIN_VALUE else vocabulary.word_list(name))
    optional = {"type": "null"} in node.pop("anyOf", ())
    for key in ("type", "enum"):
        node.pop(key, None)
    node |= {"anyOf": [reference(name), {"type": "null"}]} if optional else reference(name)
