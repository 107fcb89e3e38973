"""The written data against the schema: every wrong key and value, each at its place.

What is wrong is mended in a copy (an example for what must be there, nothing for what need not), so that the
rest can still be compared with each other and every mistake is told at once.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from typing import Any, Union

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from monitor.rules import Units
from monitor.settings.fields import OURS
from monitor.settings.mistakes import MOST, Data, Paper, Path, hushed, listed, meant, nearest, quoted
from monitor.settings.schema import BinShape, FileShape, ProbeShape, TemperatureLimits

_MISPLACED: dict[tuple[type[BaseModel], str], str] = {
    (BinShape, "probes"): "A probe stands in a zone: write it under `zones:`, the zone's id and `probes:`.",
    (BinShape, "probe"): "A probe stands in a zone: write it under `zones:`, the zone's id and `probes:`.",
    (FileShape, "probes"): "A probe stands in a zone of a bin, or in a place.",
    (FileShape, "zones"): "A zone is part of a bin: write it under `bins:` and the bin's id.",
    (FileShape, "limits"): "Write it under `site:`, under a bin or under a zone.",
    (FileShape, "timezone"): "Write it under `site:`.",
    (FileShape, "units"): "Write it under `site:`.",
    (BinShape, "comfort"): "Write it under `limits:` and `temperature:` or `moisture:`.",
    (BinShape, "harm"): "Write it under `limits:` and `temperature:` or `moisture:`.",
    (BinShape, "mat"): "Mats are written under `mats:`, beside `bins:`.",
    (BinShape, "mats"): "Mats are written under `mats:`, beside `bins:`.",
    (TemperatureLimits, "low"): "Write both ends as `comfort: 21..29 °C`.",
    (TemperatureLimits, "high"): "Write both ends as `comfort: 21..29 °C`.",
    (ProbeShape, "unit"): "What the probe sends is called `sends`.",
}
"""Where a key belongs that is known, but not here."""

_IDS = {
    "places": "shed",
    "zones": "west",
    "probes": "fig-west",
    "mats": "mat",
    "people": "ana",
    "channels": "phone",
}
"""An id of each kind, as an example."""
_ROUNDS = 12
"""How often mending is tried: one level of the schema a time."""


def validated(paper: Paper) -> FileShape | None:
    """The file as a shape; what was wrong is noted on `paper` and mended. None: it was beyond mending."""
    context = {"units": _units(paper)}
    nothing = [path for path in _nothings(paper.data, ()) if not _unknown(path)]
    for path in nothing:
        paper.misread(path)
        key = "this" if hushed(path) or not isinstance(path[-1], str) else quoted(path[-1])
        paper.wrong(path, f"Nothing stands behind {key}.", "Write what belongs there or delete the line.")
    data = _mended(paper.data, nothing)
    for round_ in range(_ROUNDS):
        try:
            return FileShape.model_validate(data, context=context)
        except ValidationError as error:
            wrong = error.errors(include_url=False, include_input=False)
        if round_ == 0:
            misspelt = _misspelt(paper, wrong[: 2 * MOST])
            for each in wrong[2 * MOST :]:
                paper.misread(_known_path(paper, each))
            for each in wrong[: 2 * MOST]:
                if _known_path(paper, each) not in misspelt or each["type"] != "missing":
                    _note(paper, each)
        data = _mended(data, [_known_path(paper, e) for e in wrong])
    return None


def _misspelt(paper: Paper, wrong: list[ErrorDetails]) -> set[Path]:
    """The keys that are probably there, but misspelt: told once, as what they are."""
    found = [_known_path(paper, each) for each in wrong if each["type"] == "extra_forbidden"]
    models = [(path, _type_at(path[:-1])) for path in found]
    return {(*p[:-1], nearest(str(p[-1]), m.model_fields) or "") for p, m in models if _is_model(m)}


def _unknown(path: Path) -> bool:
    """Whether the schema has no such key, which is then told instead."""
    model = _type_at(path[:-1])
    return _is_model(model) and path[-1] not in model.model_fields


def _nothings(data: Data, path: Path) -> Iterator[Path]:
    """Where nothing is written: no key of ours means anything by that."""
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for step, value in inner:
        if value is None:
            yield (*path, step)
        else:
            yield from _nothings(value, (*path, step))


def _units(paper: Paper) -> Units:
    return Units.US if paper.raw("site", "units") == "us" else Units.METRIC


def _note(paper: Paper, error: ErrorDetails) -> None:
    """Tell one of pydantic's errors in our words, at its place."""
    path, kind = _known_path(paper, error), error["type"]
    key = error["loc"][-1] if error["loc"] else ""
    if kind == "missing" and paper.misread_at(path[:-1]):
        return  # what it should come from is told
    paper.misread(path)
    if kind == OURS:
        facts = error["ctx"]
        paper.wrong(path, facts["sentence"], facts["hint"])
    elif kind == "missing":
        paper.wrong(path[:-1], f"`{key}` is missing here.", _example(path))
    elif kind == "extra_forbidden":
        _note_unknown(paper, path)
    else:
        paper.wrong(path, *_other(paper, path, kind))


def _note_unknown(paper: Paper, path: Path) -> None:
    model = _type_at(path[:-1])
    key = str(path[-1])
    known = list(model.model_fields) if _is_model(model) else []
    hint = _MISPLACED.get((model, key)) or meant(key, known)
    paper.wrong(
        path,
        "This key is not known here." if hushed(path) else f"{quoted(key)} is not known here.",
        hint,
        key=True,
    )


def _other(paper: Paper, path: Path, kind: str) -> tuple[str, str]:
    """A list or keys where something else should stand."""
    if kind not in ("model_type", "dict_type", "model_attributes_type"):
        one = isinstance(paper.raw(*path), dict) and _is_model(_inner(_type_at(path), 0))
        hint = "Write [{…}]: brackets round it." if one else "Write [one, two], or one line with '- ' for each."
        return "A list is expected here.", hint
    model = _type_at(path)
    if _is_model(model):
        keys = f"Keys are expected here: {listed(model.model_fields, 'and')}."
        return keys, "Write `key: value` lines, indented, or {key: value}."
    example = _IDS.get(str(path[-1]), "fig")
    return "Ids are expected here.", f"Write for example `{example}:` and, indented below it, what belongs to it."


def _example(path: Path) -> str:
    """How a missing key may be written."""
    model, key = _type_at(path[:-1]), str(path[-1])
    example = model.model_fields[key].examples[0]
    if model is FileShape or example == {}:
        return {"site": "Write `site: {id: orchard}`.", "zones": "Write `zones: {middle: {probes: …}}`."}.get(
            key, f"Write `{key}:` and what belongs below it."
        )
    shown = "{from_file: phone-url}" if isinstance(example, dict) else example
    return f"Write for example `{key}: {shown}`."


def _known_path(paper: Paper, error: ErrorDetails) -> Path:
    """The error's path as far as it is written; of a missing or unknown key one step further."""
    loc: Path = tuple(p for p in error["loc"] if p != "[key]")
    end = len(loc) - (error["type"] == "missing")
    spot, length = paper.spots, 0
    for step in loc[:end]:
        inner = spot.keys.get(step) if isinstance(step, str) else _item(spot.items, step)
        if inner is None:
            break
        spot, length = inner, length + 1
    return loc if length == end else loc[:length]


def _item(items: list[Any], index: int) -> Any:
    return items[index] if 0 <= index < len(items) else None


def _mended(data: Data, paths: list[Path]) -> Data:
    """A copy without what is wrong at `paths`; what must be there gets its example."""
    copy = _copied(data)
    for path in paths:
        _mend(copy, path)
    return copy


def _copied(data: Data) -> Data:
    if isinstance(data, dict):
        return {key: _copied(value) for key, value in data.items()}
    return [_copied(value) for value in data] if isinstance(data, list) else data


def _mend(data: Data, path: Path) -> None:
    """Mend at the last key of `path`: taking an item out of a list would move its neighbours."""
    while path and not isinstance(path[-1], str):
        path = path[:-1]
    here = data
    for step in path[:-1]:
        if isinstance(here, dict):
            here = here.get(str(step))
        elif isinstance(here, list) and isinstance(step, int) and step < len(here):
            here = here[step]
    if not path or not isinstance(here, dict):
        return
    model, key = _type_at(path[:-1]), str(path[-1])
    field = model.model_fields.get(key) if _is_model(model) else None
    if field is not None and field.examples:
        here[key] = _copied(field.examples[0])
    elif (
        _is_model(inner := _type_at(path)) and field is None and isinstance(here.get(key), str | list | type(None))
    ):
        here[key] = {k: _copied(f.examples[0]) for k, f in inner.model_fields.items() if f.examples}
    else:
        here.pop(key, None)


def _is_model(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _type_at(path: Path) -> Any:
    """The type that the schema has at `path`; Any where it has none."""
    kind: Any = FileShape
    for step in path:
        kind = _inner(kind, step)
    return kind


def _inner(kind: Any, step: str | int) -> Any:
    if _is_model(kind):
        found = kind.model_fields.get(step)
        return _bare(found.annotation) if found is not None else Any
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin is dict:
        return _bare(arguments[1])
    return _bare(arguments[0]) if origin is list else Any


def _bare(kind: Any) -> Any:
    """Without `Annotated` and without `| None`."""
    origin = typing.get_origin(kind)
    if origin is typing.Annotated:
        return _bare(typing.get_args(kind)[0])
    if origin in (Union, types.UnionType):
        return _bare(next(a for a in typing.get_args(kind) if a is not type(None)))
    return kind
