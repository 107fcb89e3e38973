"""The keeper's file → frozen rules and addresses, or every mistake at once. `load`, `find_settings`, `explain`."""

from monitor.settings.explaining import explain
from monitor.settings.loading import Settings, find_settings, load

__all__ = ["Settings", "explain", "find_settings", "load"]
