"""Decisions as JSON text and back: exact, or refused.

A document written before a field existed is read with that field's default; a field or a word that this version
does not know is ignored or refused, and `SqliteStore` says which file.
"""

from __future__ import annotations

from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticSerializationError

from monitor.errors import BadValue, StoreBroken

T = TypeVar("T")


_adapters: dict[type, TypeAdapter[Any]] = {}


def _adapter(kind: type) -> TypeAdapter[Any]:
    """Made once for each kind, when it is first wanted (half a millisecond)."""
    return _adapters.get(kind) or _adapters.setdefault(kind, TypeAdapter(kind))


def written(value: object) -> str:
    """The document of a frozen dataclass.

    Raises BadValue for one that could not be read back as it is. Finding that out costs a reading (5 µs); a row
    that cannot be read again would stop the next start.
    """
    adapter = _adapter(type(value))
    try:
        text = adapter.dump_json(value, warnings=False)
        back = adapter.validate_json(text)
    except (PydanticSerializationError, ValidationError) as error:
        raise BadValue(f"a {type(value).__name__} that cannot be kept: {error}") from error
    if back != value:
        raise BadValue(f"a {type(value).__name__} that would not be read back as it is: {value!r}")
    return text.decode()


def read(kind: type[T], text: str) -> T:
    """The frozen dataclass of a document. Raises StoreBroken when it cannot be one."""
    try:
        found: T = _adapter(kind).validate_json(text)
    except ValidationError as error:
        raise StoreBroken(f"a kept {kind.__name__} cannot be read: {error}") from error
    return found
