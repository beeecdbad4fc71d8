"""What other systems can ask and post, read from the interface's own description."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Node = Mapping[str, Any]


@dataclass(frozen=True)
class Named:
    """A parameter or a column: its name, what it is made of, and what it means."""

    name: str
    made_of: str
    meaning: str
    is_required: bool


@dataclass(frozen=True)
class Operation:
    """One operation: how it is called, what it takes and what it answers."""

    method: str
    path: str
    summary: str
    description: str
    takes: tuple[Named, ...]
    sends: tuple[Named, ...]
    answers: tuple[Named, ...]


def operations(schema: Node) -> list[Operation]:
    """Every operation of an OpenAPI description, in its order."""
    return [
        Operation(
            method=method.upper(),
            path=path,
            summary=told.get("summary", ""),
            description=told.get("description", ""),
            takes=tuple(_parameters(told, schema)),
            sends=tuple(_columns(_body_of(told.get("requestBody", {})), schema)),
            answers=tuple(_columns(_body_of(told["responses"].get(200, {})), schema)),
        )
        for path, methods in schema["paths"].items()
        for method, told in methods.items()
    ]


def _parameters(told: Node, schema: Node) -> Iterator[Named]:
    for each in told.get("parameters", ()):
        yield Named(
            name=each["name"],
            made_of=_made_of(each["schema"], schema),
            meaning=each.get("description", "") or each["schema"].get("description", ""),
            is_required=each.get("required", False),
        )


def _body_of(part: Node) -> Node:
    return part.get("content", {}).get("application/json", {}).get("schema", {})


def _columns(node: Node, schema: Node, before: str = "") -> Iterator[Named]:
    """The columns of an object, those of objects inside it after their place's name."""
    shape = _resolved(node, schema)
    for name, column in shape.get("properties", {}).items():
        inner = _resolved(column.get("items", {}), schema)
        yield Named(
            name=before + name,
            made_of=_made_of(column, schema),
            meaning=column.get("description", ""),
            is_required=name in shape.get("required", ()),
        )
        if "properties" in inner:
            yield from _columns(inner, schema, f"{before}{name}[].")


def _resolved(node: Node, schema: Node) -> Node:
    """The description that a reference points to."""
    while "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        node = schema["components"]["schemas"][name]
    return node


def _made_of(node: Node, schema: Node) -> str:
    """The kind of value in a word or two: `integer, 1 to 500`, `date or null`."""
    choices = [_made_of(each, schema) for each in node.get("anyOf", ())]
    if choices:
        return " or ".join(choices)
    node = _resolved(node, schema)
    if "enum" in node:
        return ", ".join(str(each) for each in node["enum"])
    kind = str(node.get("format", node.get("type", "object")))
    if "minimum" in node and "maximum" in node:
        kind += f", {node['minimum']} to {node['maximum']}"
    return kind
