"""Our shapes as JSON Schema, and our addresses as an OpenAPI description.

OpenAPI Specification 3.1.0 (spec.openapis.org/oas/v3.1.0) [memory]; its schemas are JSON Schema draft 2020-12 [memory]. A test
reads the description with a reference validator and holds every answer to it.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Json = dict[str, Any]

TIMES = frozenset({"at", "since", "until", "by", "valid_until", "last_round", "heard", "last", "began", "ended"})
"""Fields that hold RFC 3339 times, besides those whose names end in `_at` or `_since`."""
_SCALARS: Mapping[type, str] = {str: "string", bool: "boolean", int: "integer", float: "number"}


@dataclass(frozen=True, slots=True)
class Parameter:
    """One thing an address takes. `where` is `path` or `query`; `kind` is `text`, `number`, `days`, `day` or `time`."""

    name: str
    where: str
    kind: str
    told: str


@dataclass(frozen=True, slots=True)
class Described:
    """One address for the description. `shape` is what it answers with, `takes` what it is sent (a POST)."""

    method: str
    path: str
    name: str
    told: str
    shape: type
    parameters: Sequence[Parameter] = ()
    takes: type | None = None
    refuses: Sequence[int] = ()


class Schemas:
    """Collects a schema for each shape, under its name."""

    def __init__(self) -> None:
        self.found: dict[str, Json] = {}
        self._kinds: dict[str, Any] = {}

    def of(self, kind: Any, field: str = "") -> Json:
        """The schema of a type; of a shape a reference to it."""
        if kind in _SCALARS:
            return {"type": _SCALARS[kind], **self._format(kind, field)}
        if typing.is_typeddict(kind):
            return self._shape(kind)
        origin, arguments = typing.get_origin(kind), typing.get_args(kind)
        if origin is list:
            return {"type": "array", "items": self.of(arguments[0])}
        if origin is dict:
            return {"type": "object", "additionalProperties": self.of(arguments[1])}
        if origin in (types.UnionType, typing.Union):
            return {"anyOf": [{"type": "null"} if one is type(None) else self.of(one, field) for one in arguments]}
        raise TypeError(f"{kind} has no schema")

    def _format(self, kind: type, field: str) -> Json:
        is_time = kind is str and (field in TIMES or field.endswith(("_at", "_since")))
        return {"format": "date-time"} if is_time else {}

    def _name(self, kind: Any) -> str:
        """By its own name; where another shape has that already, with its module's before it."""
        name = kind.__name__.removesuffix("Shape")
        return name if self._kinds.setdefault(name, kind) is kind else f"{_module(kind)}{name}"

    def _shape(self, kind: Any) -> Json:
        name = self._name(kind)
        if name not in self.found:
            self.found[name] = {}
            hints = typing.get_type_hints(kind)
            self.found[name] = {
                "type": "object",
                "description": " ".join((kind.__doc__ or "").split()),
                "properties": {key: self.of(hint, key) for key, hint in hints.items()},
                "required": sorted(kind.__required_keys__, key=list(hints).index),
                "additionalProperties": False,
            }
        return {"$ref": f"#/components/schemas/{name}"}


def _module(kind: Any) -> str:
    return "".join(part.capitalize() for part in kind.__module__.rpartition(".")[2].split("_"))


def description(addresses: Iterable[Described], *, title: str, version: str, problem: type, asks: bool) -> Json:
    """The whole description. `problem` is the shape of every refusal, `asks` whether a passphrase is needed."""
    schemas, paths = Schemas(), dict[str, Json]()
    refusal = {"description": "Why not.", "content": {"application/problem+json": {"schema": schemas.of(problem)}}}
    for one in addresses:
        paths.setdefault(one.path, {})[one.method.lower()] = _operation(one, schemas, refusal)
    return {
        "openapi": "3.1.0",
        "info": {"title": title, "version": version, "description": TOLD},
        "servers": [{"url": "/"}],
        "security": [{"passphrase": []}] if asks else [],
        "paths": paths,
        "components": {
            "schemas": dict(sorted(schemas.found.items())),
            "securitySchemes": {
                "passphrase": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "The keeper's passphrase, where the settings ask for one.",
                }
            },
        },
    }


TOLD = (
    "The same facts as the commands' --json. Times are RFC 3339 in UTC, numbers canonical (°C, per cent of wet mass, %RH,"
    " seconds) whatever the site reads; what is called sentence, words, why or about is for people, in the site's own units."
)


def _operation(one: Described, schemas: Schemas, refusal: Json) -> Json:
    answer = {"description": one.told, "content": {"application/json": {"schema": schemas.of(one.shape)}}}
    good = {"200": answer} if one.takes is None else {"200": answer, "202": answer}
    found: Json = {
        "operationId": one.name,
        "summary": one.told,
        "parameters": [_parameter(p) for p in one.parameters],
        "responses": good | {str(status): refusal for status in sorted({*one.refuses, 401, 503})},
    }
    if one.takes is not None:
        content = {"application/json": {"schema": schemas.of(one.takes)}}
        found["requestBody"] = {"required": True, "content": content}
    return found


def _parameter(one: Parameter) -> Json:
    kinds: Mapping[str, Json] = {
        "text": {"type": "string"},
        "number": {"type": "integer", "minimum": 1},
        "days": {"type": "number", "exclusiveMinimum": 0},
        "day": {"type": "string", "format": "date"},
        "time": {"type": "string", "format": "date-time"},
    }
    return {
        "name": one.name,
        "in": one.where,
        "required": one.where == "path",
        "description": one.told,
        "schema": kinds[one.kind],
    }
