"""A document read by its class's own annotations, without pydantic, whose import takes longer than what a command reads.

Only what is just as `codec` writes it is read here. Whatever is anything else, be it right or wrong, is pydantic's to judge.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Hashable
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from functools import cache, partial
from types import NoneType, UnionType
from typing import Any, NoReturn, TypeVar, Union, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")
Make = Callable[[Any], Any]

_CANNOT = (ValueError, TypeError, KeyError, NameError, OverflowError, RecursionError)


def plain(kind: type[T], text: str) -> T | None:
    """The frozen dataclass of a document; None where pydantic is to be asked."""
    try:
        text.encode()
        if r"\ud" in text.lower():  # may be half a character, which Python reads and pydantic refuses
            return None
        found: T = _maker(cast(Hashable, kind))(json.loads(text, parse_constant=_refuse))
    except _CANNOT:
        return None
    return found


def _refuse(value: object) -> NoReturn:
    raise ValueError(value)


@cache
def _maker(kind: Any) -> Make:
    """What makes a value of this kind out of what JSON says. Raises one of `_CANNOT`, then or now."""
    if kind in (int, str, bool):
        return partial(_just, kind)
    if kind is float:
        return _float
    if get_origin(kind) in (Union, UnionType):
        (only,) = [one for one in get_args(kind) if one is not NoneType]
        return partial(_unless_none, _maker(only))
    if get_origin(kind) is tuple:
        return _tuple(get_args(kind))
    return _class(kind)


def _class(kind: Any) -> Make:
    if is_dataclass(kind):
        return _dataclass(kind)
    if issubclass(kind, Enum):
        return partial(kind)
    if issubclass(kind, tuple):  # a NamedTuple
        return partial(_row, kind, [_maker(one) for one in get_type_hints(kind).values()])
    raise TypeError(kind)


def _just(kind: type, said: Any) -> Any:
    return said if type(said) is kind else _refuse(said)


def _float(said: Any) -> float:
    value = float(said) if type(said) in (int, float) else math.nan
    return value if math.isfinite(value) else _refuse(said)


def _unless_none(make: Make, said: Any) -> Any:
    return None if said is None else make(said)


def _tuple(kinds: tuple[Any, ...]) -> Make:
    if kinds[-1] is not Ellipsis:
        return partial(_row, lambda *values: values, [_maker(one) for one in kinds])
    make = _maker(kinds[0])
    return lambda said: tuple([make(one) for one in _just(list, said)])


def _row(whole: Callable[..., Any], makes: list[Make], said: Any) -> Any:
    return whole(*[make(one) for make, one in zip(makes, _just(list, said), strict=True)])


def _dataclass(kind: Any) -> Make:
    hints = get_type_hints(kind)
    makes = {one.name: _maker(hints[one.name]) for one in fields(kind)}
    needed = {one.name for one in fields(kind) if one.default is MISSING and one.default_factory is MISSING}

    def make(said: Any) -> Any:
        if not needed <= _just(dict, said).keys():
            _refuse(said)
        return kind(**{name: makes[name](value) for name, value in said.items() if name in makes})

    return make
