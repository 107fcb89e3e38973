"""Every probe read once: `vermistat publish --look`."""

from __future__ import annotations

from pathlib import Path
from typing import TypedDict

from monitor.publisher.faults import Faulty
from monitor.publisher.sources import source_of
from monitor.publisher.wired import Publishing, Sends, Wired


class LookedShape(TypedDict):
    """One probe: its value in `unit` (SenML's; empty for on and off), or what is wrong."""

    probe: str
    topic: str
    value: float | None
    unit: str
    fault: str | None
    says: str | None


class LookShape(TypedDict):
    """What `publish --look --json` prints."""

    id: str
    probes: list[LookedShape]


_MEASURES = {
    Sends.CELSIUS: "temperature", Sends.HUMIDITY: "humidity", Sends.COUNTS: "moisture", Sends.KILOGRAM: "mass",
}  # fmt: skip


def look_facts(settings: Publishing, *, root: Path = Path("/sys")) -> LookShape:
    """Reads every probe, one after the other."""
    return {"id": settings.id, "probes": [_looked(wired, root) for wired in settings.probes.values()]}


def _looked(wired: Wired, root: Path) -> LookedShape:
    value, fault, says = None, None, None
    try:
        value = round(source_of(wired, root=root).read(), 4)
    except Faulty as faulty:
        fault, says = str(faulty.fault), str(faulty)
    return {
        "probe": wired.id,
        "topic": wired.topic,
        "value": value,
        "unit": str(wired.sends),
        "fault": fault,
        "says": says,
    }


_UNITS = {"Cel": " °C", "%RH": " %", "count": " counts", "kg": " kg"}


def look_text(facts: LookShape, settings: Publishing) -> str:
    """The same in sentences, and the lines that the daemon's settings need."""
    lines = []
    for one in facts["probes"]:
        value = one["value"]
        if value is None:
            lines.append(f"{one['probe']}: nothing. {one['says']}")
        elif one["unit"]:
            lines.append(f"{one['probe']}: {value:g}{_UNITS[one['unit']]}")
        else:
            lines.append(f"{one['probe']}: {'on' if value else 'off'}")
    lines += ["", "In the daemon's settings, below the place or zone that each is in:"]
    for wired in settings.probes.values():
        lines.append(f"  {daemon_line(wired)}")
    return "\n".join(lines)


def daemon_line(wired: Wired) -> str:
    """How the daemon's settings name it."""
    where = f"topic: {wired.topic}, name: {wired.id}"
    if wired.sends is Sends.SWITCH:
        return f"state: {{{where}, sends: on/off}}   # of its mat"
    counts = ", sends: counts" if wired.sends is Sends.COUNTS else ""
    return f"{wired.id}: {{measures: {_MEASURES[wired.sends]}, {where}{counts}}}"
