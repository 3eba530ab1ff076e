"""Component schemas, from the same types that decode and encode: closed where requests are, open where answers are."""

import inspect
from collections.abc import Iterator, Mapping
from functools import cache

import msgspec

from feedproof.api.health import Health
from feedproof.api.naming import REFERENCE, Schema, refer, refer_words
from feedproof.contract import catalogue
from feedproof.contract.assessment import Assessment
from feedproof.contract.problem import Problem
from feedproof.contract.quantities import field_docs
from feedproof.contract.request import AssessmentRequest
from feedproof.contract.screen import Screen
from feedproof.contract.simulation import Simulation, SimulationRequest

REQUESTS: tuple[type[msgspec.Struct], ...] = (AssessmentRequest, SimulationRequest)
ANSWERS: tuple[type[msgspec.Struct], ...] = (
    Assessment,
    Screen,
    Simulation,
    Problem,
    Health,
    catalogue.FaultCatalogue,
    catalogue.CautionCatalogue,
    catalogue.SupplySystemCatalogue,
    catalogue.MeterCatalogue,
    catalogue.ConductorCatalogue,
    catalogue.ReceptacleCatalogue,
    catalogue.ObservationCatalogue,
    catalogue.UnitCatalogue,
    catalogue.ModelDescription,
    catalogue.LimitCatalogue,
)


def name_of(schema: Schema) -> str:
    """Name of the component that a reference points to."""
    return str(schema["$ref"]).rpartition("/")[2]


def _nodes(node: object) -> Iterator[Schema]:
    """Every schema object in a schema, itself first."""
    if isinstance(node, dict):
        yield node
        for key, value in node.items():
            if key not in {"examples", "default", "discriminator"}:
                yield from _nodes(value)
    elif isinstance(node, list):
        for value in node:
            yield from _nodes(value)


def _state_tag(name: str, schema: Schema) -> None:
    """Describe the field that tells the members of a union apart."""
    for field, node in schema.get("properties", {}).items():
        if set(node) == {"enum"} and len(node["enum"]) == 1:
            (tag,) = node["enum"]
            node.clear()
            node |= {
                "type": "string",
                "const": tag,
                "description": f"Always `{tag}`: tells a {name} from the others by its {field}.",
                "examples": [tag],
            }


def _state_enum(node: Schema) -> None:
    """Give an enumeration its type."""
    if "enum" not in node:
        return
    node["type"] = "string"
    if len(node["enum"]) == 1:
        (node["const"],) = node.pop("enum")


def _flatten_single(node: Schema) -> None:
    """Write `anyOf` of one type and null as one schema with both types, which generators read better."""
    branches = node.get("anyOf", [])
    if len(branches) != 2 or {"type": "null"} not in branches:  # noqa: PLR2004
        return
    (other,) = (branch for branch in branches if branch != {"type": "null"})
    if "$ref" in other or "enum" in other or not isinstance(other.get("type"), str):
        return
    node.pop("anyOf")
    node |= {key: value for key, value in other.items() if key not in node}
    node["type"] = [other["type"], "null"]


@cache
def _structs() -> Mapping[str, type[msgspec.Struct]]:
    """Every wire type by its name."""
    waiting = msgspec.Struct.__subclasses__()
    found: dict[str, type[msgspec.Struct]] = {}
    while waiting:
        kind = waiting.pop()
        waiting += kind.__subclasses__()
        if kind.__module__.startswith(("feedproof.contract.", "feedproof.api.health")):
            found[kind.__name__] = kind
    return found


def reachable(schemas: Mapping[str, Schema], roots: Iterator[str]) -> set[str]:
    """Names of the components that the roots refer to, the roots included."""
    found: set[str] = set()
    waiting = list(roots)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += [name_of(node) for node in _nodes(schemas[name]) if "$ref" in node]
    return found


def example_of(schemas: Mapping[str, Schema], schema: Schema) -> object:
    """Put an example together from the examples of the fields."""
    if "$ref" in schema and not schema.get("examples"):
        schema = schemas[name_of(schema)]
    examples = schema.get("examples")
    if examples and examples != [[]]:
        return examples[0]
    if schema.get("type") == "array":
        return [example_of(schemas, schema["items"])]
    return {name: example_of(schemas, node) for name, node in schema.get("properties", {}).items()}


def _state_node(node: Schema, named: dict[str, Schema], *, asked: bool) -> None:
    """Put one schema, of a request or of an answer, in the form that generators read best."""
    if asked or "discriminator" in node:
        refer(node, named)
    if not asked:
        refer_words(node, named)
    if not asked or node.get("default", ...) is None:
        # What may be left out is told by `required`; generators take a default for a value that is there.
        node.pop("default", None)
    _state_enum(node)
    _flatten_single(node)


def component_schemas() -> dict[str, Schema]:
    """All component schemas of the published document, by name.

    Returns
    -------
    dict
        JSON Schema 2020-12. Objects of requests are closed, objects of answers open.
    """
    _, made = msgspec.json.schema_components([*REQUESTS, *ANSWERS], ref_template=REFERENCE)
    schemas: dict[str, Schema] = dict(sorted(made.items()))
    named: dict[str, Schema] = {}
    asked = reachable(schemas, (kind.__name__ for kind in REQUESTS))
    for name, schema in schemas.items():
        fields = schema.get("properties", {})
        for field, about in field_docs(_structs()[name]).items():
            fields[field] = {"description": about, **fields[field]}
        _state_tag(name, schema)
        if "description" in schema:
            # Python 3.13 takes the indentation out of docstrings by itself; the versions before leave it in.
            schema["description"] = inspect.cleandoc(schema["description"])
        for node in list(_nodes(schema)):
            _state_node(node, named, asked=name in asked)
        if name not in asked and not _structs()[name].__struct_config__.omit_defaults:
            schema["required"] = list(schema["properties"])
    schemas = dict(sorted((schemas | named).items()))
    for schema in schemas.values():
        for node in schema.get("properties", {}).values():
            if node.get("examples") == [[]] and "$ref" in node.get("items", {}):
                node["examples"] = [[example_of(schemas, node["items"])]]
    return schemas
