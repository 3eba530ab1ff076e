"""Walking the schemas of a document."""

from collections.abc import Iterator, Mapping
from typing import Any

Schema = dict[str, Any]


def nodes(node: object) -> Iterator[Schema]:
    """Every schema object, itself first; examples are not looked into."""
    if isinstance(node, dict):
        yield node
        for key, value in node.items():
            if key not in {"examples", "example", "default"}:
                yield from nodes(value)
    elif isinstance(node, list):
        for value in node:
            yield from nodes(value)


def fields(schema: Schema) -> list[tuple[str, Schema]]:
    """Fields of an object with their schemas."""
    return list(schema.get("properties", {}).items())


def enumerations(schema: Schema) -> Iterator[list[str]]:
    """Every closed list."""
    return (sorted(node["enum"]) for node in nodes(schema) if "enum" in node)


def reachable(schemas: Mapping[str, Schema], root: str) -> set[str]:
    """Names of the components that one refers to, itself included."""
    found: set[str] = set()
    waiting = [root]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            targets = (node["$ref"] for node in nodes(schemas[name]) if isinstance(node.get("$ref"), str))
            waiting += [target.rpartition("/")[2] for target in targets]
    return found
