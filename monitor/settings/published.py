"""The shape of the file for editors, as JSON Schema (draft 2020-12): what can be written where, and how.

It refuses nothing that the daemon accepts; what only two values together can tell (a probe id twice, low above high)
stays with `vermistat check`. A scalar is taken as an editor reads it by YAML 1.2: `5` is a number, `21:00` a text.
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterable, Mapping
from enum import Enum
from typing import Any, Union

from pydantic import BaseModel

from monitor.settings import fields as f
from monitor.settings import quantities as q
from monitor.settings.schema import AddressAt, BinShape, FileShape, HarmAt, MoistureHarmAt, SecretShape

DRAFT = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]
About = Mapping[tuple[str, str], str]
"""(name of a shape, key) → what the key is, for whoever hovers over it."""

ID = "^[a-z][a-z0-9-]{0,31}$"
PATTERN_ID = "^[a-z<][a-z0-9<>-]*$"
"""Of a probe in a profile, where `<bin>` is filled in."""
_NUMBER = "[-+−–]?([0-9]+(\\.[0-9]+)?|\\.[0-9]+)"


def _amount(quantity: q.Quantity) -> Schema:
    """`21 °C`, and where the site's units tell it a bare number too."""
    units = "|".join(sorted(map(_escaped, quantity.units), key=len, reverse=True))
    bare = bool(quantity.bare)
    text = {"type": "string", "pattern": f"^\\s*{_NUMBER}\\s*({units}){'?' if bare else ''}\\s*$"}
    shown = {"examples": list(dict.fromkeys(quantity.examples.values()))}
    return {"anyOf": [text, {"type": "number"}], **shown} if bare else {**text, **shown}


def _whole(low: int, high: int) -> Schema:
    text = {"type": "string", "pattern": "^\\s*[0-9]{1,4}\\s*$"}
    return {"anyOf": [{"type": "integer", "minimum": low, "maximum": high}, text]}


def _range(quantity: q.Quantity, example: str) -> Schema:
    units = "|".join(sorted(map(_escaped, quantity.units), key=len, reverse=True))
    end = f"\\s*{_NUMBER}\\s*({units})?\\s*"
    return {"type": "string", "pattern": f"^{end}\\.\\.{end}$", "examples": [example]}


def _escaped(text: str) -> str:
    return re.sub(r"[.^$*+?()\[\]{}|\\]", lambda found: "\\" + found[0], text)


def _text(pattern: str, *examples: str) -> Schema:
    return {"type": "string", "pattern": pattern, **({"examples": list(examples)} if examples else {})}


_SPAN = _amount(q.SPAN)
ANY_SCALAR: Schema = {"type": ["string", "number", "boolean"]}
_CLOCK = "([01]?[0-9]|2[0-3]):[0-5][0-9]"
SCALARS: Mapping[Any, Schema] = {
    f.BedTemperature: _amount(q.TEMPERATURE),
    f.Degrees: _amount(q.DEGREES),
    f.Percent: _amount(q.PERCENT),
    f.Points: _amount(q.PERCENT),
    f.Mass: _amount(q.MASS),
    f.Volume: _amount(q.VOLUME),
    f.Power: _amount(q.POWER),
    f.Area: _amount(q.AREA),
    f.Depth: _amount(q.LENGTH),
    f.Interval: _SPAN,
    f.Kept: _SPAN,
    f.Delay: _SPAN,
    f.Patience: _SPAN,
    f.Lasting: {"anyOf": [_SPAN, {"const": "at once"}]},
    f.BedBand: _range(q.TEMPERATURE, "21..29 °C"),
    f.DampBand: _range(q.PERCENT, "70..85 %"),
    f.Number: {"anyOf": [{"type": "number", "minimum": 0}, _text("^\\s*[0-9]+(\\.[0-9]+)?\\s*$")]},
    f.KeptDays: _whole(1, 366),
    f.KeptWeeks: _whole(0, 520),
    f.Truth: {"enum": [True, False, "true", "false"]},
    f.Clock: _text(f"^\\s*{_CLOCK}\\s*$", "21:00"),
    f.Day: _text("^\\s*[0-9]{4}-[0-9]{2}-[0-9]{2}\\s*$", "2026-03-14"),
    f.WeekTime: _text(
        f"^\\s*([Nn]ever|([Mm]on|[Tt]ues|[Ww]ednes|[Tt]hurs|[Ff]ri|[Ss]atur|[Ss]un)day {_CLOCK})\\s*$", "monday 07:30"
    ),
    f.Topic: {"anyOf": [_text("^[^+#$][^+#]*$", "probes/fig-west"), {"type": ["number", "boolean"]}]},
    f.Pointer: _text("^(/.*)?$", "/temperature"),
    f.OldId: _text(ID),
    f.ZoneName: _text("^[^.]+\\.[^.]+$", "fig.west"),
    f.Currency: _text("^[A-Z]{3}$", "EUR"),
    f.Listen: _text(":[0-9]{1,5}\\s*$", "127.0.0.1:8420"),
    f.Publisher: _text("^[a-z][a-z0-9-]{0,31}$", "shed"),
    f.WebAddress: _text("^\\s*[Hh][Tt][Tt][Pp][Ss]?://"),
    f.BrokerUrl: _text("^\\s*[Mm][Qq][Tt][Tt][Ss]?://[^@]*$", "mqtts://localhost:8883"),
    f.Environment: _text("^[A-Za-z_][A-Za-z0-9_]{0,99}$"),
}  # fmt: skip
"""What may be written for one value; a type that is not in here may be any scalar, or is a choice of words."""

HARM: Mapping[type[BaseModel], Schema] = {
    HarmAt: _range(q.TEMPERATURE, "15..32 °C"),
    MoistureHarmAt: _range(q.PERCENT, "50..90 %"),
}
"""What may stand instead of a list of harm limits."""
IDS = {"places", "bins", "zones", "mats", "people", "channels", "profiles"}
"""Keys below which the keys are ids."""


MAY_STAND_ELSEWHERE = (FileShape, BinShape)
"""Shapes whose needed keys another file, or a profile, may hold."""


def schema(about: About | None = None) -> Schema:
    """The whole file; `about` tells what each key is."""
    made = _Making(about or {})
    root = made.model(FileShape)
    return {
        "$schema": DRAFT,
        "title": "Vermistat's settings",
        **root,
        "$defs": dict(sorted(made.defs.items())),
    }


class _Making:
    """Collects a definition for each shape."""

    def __init__(self, about: About) -> None:
        self.about = about
        self.defs: dict[str, Schema] = {}

    def model(self, kind: type[BaseModel]) -> Schema:
        hints = typing.get_type_hints(kind, include_extras=True)
        properties = {key: self.key(kind, key, hints[key]) for key in kind.model_fields}
        needed = [key for key, field in kind.model_fields.items() if field.examples]
        found: Schema = {
            "type": "object",
            "description": (kind.__doc__ or "").strip().split("\n")[0],
            "properties": properties,
            "additionalProperties": False,
        }
        return {**found, "required": needed} if needed and kind not in MAY_STAND_ELSEWHERE else found

    def key(self, kind: type[BaseModel], key: str, hint: Any) -> Schema:
        found = self.value(hint, key)
        told = self.about.get((kind.__name__, key))
        return {**found, "description": told} if told and "$ref" not in found else (
            {"allOf": [found], "description": told} if told else found
        )  # fmt: skip

    def value(self, hint: Any, key: str = "") -> Schema:
        if hint in SCALARS:
            return dict(SCALARS[hint])
        origin, arguments = typing.get_origin(hint), typing.get_args(hint)
        if origin in (Union, types.UnionType):
            return self.value(next(a for a in arguments if a is not type(None)), key)
        if origin is typing.Annotated:
            return self.annotated(hint, arguments)
        if origin in (list, dict):
            return self.several(origin, arguments, key)
        return self.shape(hint) if isinstance(hint, type) and issubclass(hint, BaseModel) else dict(ANY_SCALAR)

    def several(self, origin: Any, arguments: tuple[Any, ...], key: str) -> Schema:
        if origin is list:
            return {"type": "array", "items": self.value(arguments[0])}
        names = ID if key in IDS else PATTERN_ID
        inner = self.value(arguments[1], key)
        return {"type": "object", "propertyNames": {"pattern": names}, "additionalProperties": inner}

    def annotated(self, hint: Any, arguments: tuple[Any, ...]) -> Schema:
        bare = arguments[0]
        if f.OneOrMore in arguments[1:]:
            each = self.value(typing.get_args(bare)[0])
            return {"anyOf": [each, {"type": "array", "items": each}]}
        if typing.get_origin(bare) is list:
            each = typing.get_args(bare)[0]
            listed = {"type": "array", "items": self.value(each)}
            return {"anyOf": [listed, HARM[each]]} if each in HARM else listed
        if isinstance(bare, type) and issubclass(bare, Enum):
            return {"enum": _words(member.value for member in bare)}
        if hint == AddressAt:
            return {"anyOf": [dict(SCALARS[f.WebAddress]), self.shape(SecretShape)]}
        return self.shape(bare) if bare is SecretShape else dict(ANY_SCALAR)

    def shape(self, kind: type[BaseModel]) -> Schema:
        if kind.__name__ not in self.defs:
            self.defs[kind.__name__] = {}
            self.defs[kind.__name__] = self.model(kind)
        return {"$ref": f"#/$defs/{kind.__name__}"}


def _words(values: Iterable[object]) -> list[object]:
    """Each as it may be written: a word that looks like a number also without quotes."""
    found: list[object] = []
    for value in values:
        found.append(str(value))
        if re.fullmatch(r"[0-9]+", str(value)):
            found.append(int(str(value)))
    return found
