"""One module a page; each says in `ROUTES` what it answers. It is imported when the first of that is asked for."""

from collections.abc import Mapping

OF: Mapping[str, tuple[str, ...]] = {
    "": ("home",),
    "alarms": ("alarms",),
    "answer": ("answers",),
    "api": ("api",),
    "bins": ("bins", "caring", "closer"),
    "diary": ("diary",),
    "enter": ("enter",),
    "events": ("live",),
    "leave": ("enter",),
    "limits": ("limits", "trying"),
    "metrics": ("metrics",),
    "probes": ("calibrating", "probes"),
    "week": ("week",),
}
"""By the first word of an address: the modules that answer what begins so."""
