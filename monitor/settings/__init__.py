"""The keeper's file → frozen rules and addresses, or every mistake at once. `load`, `find_settings`, `explain`."""

from monitor.settings.loading import Settings, find_settings, load

__all__ = ["Settings", "explain", "find_settings", "load"]


def explain(settings: Settings) -> list[str]:
    """What these settings will do, in plain sentences (loaded when it is wanted: only `check` says them)."""
    from monitor.settings.explaining import explain as sentences

    return sentences(settings)
