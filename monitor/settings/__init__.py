"""The keeper's file → frozen rules and addresses, or every mistake at once. `load`, `find_settings`, `explain`.

`load` brings the whole reader with it, so it is imported when it is first asked for.
"""

from typing import TYPE_CHECKING, Any

from monitor.settings.places import find_settings

if TYPE_CHECKING:
    from monitor.settings.loading import Settings, load

__all__ = ["Settings", "explain", "find_settings", "load"]


def __getattr__(name: str) -> Any:
    if name not in ("Settings", "load"):
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from monitor.settings import loading

    return getattr(loading, name)


def explain(settings: "Settings") -> list[str]:
    """What these settings will do, in plain sentences (loaded when it is wanted: only `check` says them)."""
    from monitor.settings.explaining import explain as sentences

    return sentences(settings)
