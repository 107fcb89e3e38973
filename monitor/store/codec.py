"""Decisions as JSON text and back: exact, or refused.

A document written before a field existed is read with that field's default; a field or a word that this version
does not know is ignored or refused, and `SqliteStore` says which file.
"""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Any, TypeVar

from monitor.errors import BadValue, StoreBroken
from monitor.store.plain import plain

if TYPE_CHECKING:
    from pydantic import TypeAdapter

T = TypeVar("T")


FEW = 1000
"""So many documents are read plainly by one process. For more than that pydantic is worth its import: it takes a quarter of
the time for each (3 to 13 µs)."""

_adapters: dict[type, TypeAdapter[Any]] = {}
_read = count()


def _adapter(kind: type) -> TypeAdapter[Any]:
    """Made once for each kind, when it is first wanted (half a millisecond, and a twelfth of a second for the first)."""
    from pydantic import TypeAdapter

    return _adapters.get(kind) or _adapters.setdefault(kind, TypeAdapter(kind))


def written(value: object) -> str:
    """The document of a frozen dataclass.

    Raises BadValue for one that could not be read back as it is. Finding that out costs a reading (5 µs); a row
    that cannot be read again would stop the next start.
    """
    from pydantic import ValidationError
    from pydantic_core import PydanticSerializationError

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
    """The frozen dataclass of a document. Raises StoreBroken when it cannot be one.

    A process that writes such documents reads them by what it made for writing, the others as plainly as can be.
    """
    found = None if kind in _adapters or next(_read) >= FEW else plain(kind, text)
    return _judged(kind, text) if found is None else found


def _judged(kind: type[T], text: str) -> T:
    from pydantic import ValidationError

    try:
        found: T = _adapter(kind).validate_json(text)
    except ValidationError as error:
        raise StoreBroken(f"a kept {kind.__name__} cannot be read: {error}") from error
    return found
