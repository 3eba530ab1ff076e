"""What two schemas have to share to describe the same JSON: names, types, what is required, what is left out.

Left aside are words for people, and bounds and patterns: those are the service's to check, and the SDK holds none. An
object may be closed on one side and open on the other: requests are closed to the service, answers open to clients.
"""

import json
from collections.abc import Mapping
from typing import Any

Schema = dict[str, Any]

ASIDE = {
    "description", "examples", "title",
    "maxItems", "maxLength", "maxProperties", "maximum", "minItems", "minLength", "minimum", "pattern", "uniqueItems",
    "exclusiveMinimum", "exclusiveMaximum", "propertyNames",
}  # fmt: skip


def _order(schema: Schema) -> str:
    return json.dumps(schema, sort_keys=True)


def _default(node: Schema) -> Schema:
    """What stands for a field that is left out; null and an empty list are nothing."""
    return {} if not node.get("default") else {"default": _plain(node["default"])}


def _plain(value: object) -> Any:
    """As JSON has it: a tuple is a list."""
    return json.loads(json.dumps(value))


def written_out(schemas: Mapping[str, Schema]) -> dict[str, Schema]:
    """Write the components that name no object where they are referred to: the SDK has them as aliases."""

    def written(node: Any) -> Any:
        if isinstance(node, list):
            return [written(one) for one in node]
        if not isinstance(node, dict):
            return node
        name = str(node.get("$ref", "")).rpartition("/")[2]
        if name in schemas and "properties" not in schemas[name]:
            node = {key: value for key, value in node.items() if key != "$ref"} | schemas[name]
        made: Schema = {}
        for key, value in node.items():
            if key in {"anyOf", "oneOf"}:
                made[key] = [one for branch in map(written, value) for one in _alternatives(branch)]
                # A union that may be left out is told apart as the union is.
                made |= {k: v for branch in map(written, value) for k, v in branch.items() if k == "discriminator"}
            else:
                made[key] = value if key in {"examples", "default", "discriminator"} else written(value)
        return made

    return {name: written(schema) for name, schema in schemas.items() if "properties" in schema}


def _alternatives(branch: Schema) -> list[Schema]:
    return branch.get("anyOf") or branch.get("oneOf") or [branch]


def shape(node: Schema, names: Mapping[str, str]) -> Schema:
    """Reduce a schema to what counts.

    Parameters
    ----------
    node : dict
        JSON Schema 2020-12, of the kind that msgspec writes or the service publishes.
    names : mapping of str to str
        Components that are called otherwise on the other side.
    """

    def renamed(reference: str) -> str:
        name = reference.rpartition("/")[2]
        return names.get(name, name)

    if "$ref" in node:
        return {"ref": renamed(node["$ref"])}
    made: Schema = {}
    branches: list[Schema] = node.get("anyOf") or node.get("oneOf") or []
    alternatives = [shape(branch, names) for branch in branches]
    kinds = node.get("type")
    if isinstance(kinds, list):
        bare = {key: value for key, value in node.items() if key != "default"}
        alternatives = [{"type": "null"} if kind == "null" else shape({**bare, "type": kind}, names) for kind in kinds]
    if alternatives:
        made["any"] = sorted(alternatives, key=_order)
        if "discriminator" in node:
            told = node["discriminator"]
            mapping = {value: renamed(reference) for value, reference in told["mapping"].items()}
            made["discriminator"] = [told["propertyName"], mapping]
        return made | _default(node)
    values = [node["const"]] if "const" in node else node.get("enum")
    if values is not None:
        made["values"] = sorted(values)
    elif "type" in node:
        made["type"] = node["type"]
    if "prefixItems" in node:
        first, *others = [shape(item, names) for item in node["prefixItems"]]
        assert all(other == first for other in others)
        made["items"] = first
    elif isinstance(node.get("items"), dict):
        made["items"] = shape(node["items"], names)
    if "properties" in node:
        made["properties"] = {name: shape(inner, names) for name, inner in node["properties"].items()}
        made["required"] = sorted(node.get("required", []))
    if isinstance(node.get("additionalProperties"), dict):
        made["values_of"] = shape(node["additionalProperties"], names)
    made |= _default(node)
    unknown = {key for key in node if not key.startswith("x-")} - ASIDE - {
        "$ref", "additionalProperties", "anyOf", "const", "default", "discriminator", "enum", "items", "oneOf",
        "prefixItems", "properties", "required", "type",
    }  # fmt: skip
    assert not unknown, f"nothing is known of {unknown}"
    return made


def differences(ours: Mapping[str, Schema], theirs: Mapping[str, Schema], names: Mapping[str, str]) -> list[str]:
    """Say what is not the same in two sets of components; `names` renames ours to theirs."""
    left = {names.get(name, name): shape(schema, names) for name, schema in ours.items()}
    right = {name: shape(schema, {}) for name, schema in theirs.items()}
    found = [f"{name}: only here" for name in left.keys() - right.keys()]
    found += [f"{name}: only there" for name in right.keys() - left.keys()]
    for name in left.keys() & right.keys():
        found += _compare(name, left[name], right[name])
    return sorted(found)


def _compare(where: str, left: Any, right: Any) -> list[str]:
    if isinstance(left, dict) and isinstance(right, dict):
        found = [f"{where}/{key}: only here" for key in left.keys() - right.keys()]
        found += [f"{where}/{key}: only there" for key in right.keys() - left.keys()]
        for key in left.keys() & right.keys():
            found += _compare(f"{where}/{key}", left[key], right[key])
        return found
    return [] if left == right else [f"{where}: {left} here, {right} there"]
