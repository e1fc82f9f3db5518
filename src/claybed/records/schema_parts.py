"""Small pieces that a JSON Schema is put together from."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]


def entry(properties: Schema, description: str = "", *, optional: tuple[str, ...] = ()) -> Schema:
    """An object with named properties, all required but the `optional` ones; others may be added."""
    schema: Schema = {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": True,
    }
    return schema | {"description": description} if description else schema


def digests() -> Schema:
    """The properties that tell whether a solid's files are as a plan wrote them."""
    return {
        "sha256": text("SHA-256 of its STL file as it was written, in hexadecimal digits."),
        "sha256_3mf": text("SHA-256 of its 3MF file as it was written, in hexadecimal digits."),
    }


def rows(items: Schema, description: str, *, at_least: int = 0) -> Schema:
    """A list of `items`, at least so many."""
    return {"type": "array", "description": description, "items": items, "minItems": at_least}


def amount(description: str, *, above_zero: bool = False) -> Schema:
    """A number of 0 or more, or above 0."""
    return {"type": "number", "description": description, "exclusiveMinimum" if above_zero else "minimum": 0}


def number(description: str) -> Schema:
    """Any number."""
    return {"type": "number", "description": description}


def text(description: str) -> Schema:
    """A text."""
    return {"type": "string", "description": description}


def flag(description: str) -> Schema:
    """True or false."""
    return {"type": "boolean", "description": description}


def whole(description: str, *, least: int = 0) -> Schema:
    """A whole number of `least` or more."""
    return {"type": "integer", "description": description, "minimum": least}


def triple(description: str, item: Schema | None = None) -> Schema:
    """A list of three items, numbers unless told otherwise."""
    each = {"type": "number"} if item is None else item
    return {"type": "array", "description": description, "items": each, "minItems": 3, "maxItems": 3}


def nullable(schema: Schema) -> Schema:
    """The same, or null."""
    return schema | {"type": [schema["type"], "null"]}


def place(description: str) -> Schema:
    """Three coordinates, or null when there is no one place."""
    return triple(description) | {"type": ["array", "null"]}
