"""How much an alarm matters: three priorities by consequence and by the time there is to act.

The matrix of consequence and time is the trade's own (minor to severe against minutes, here hours) [seen-2nd].
Heat harms a bed in hours, cold and drought in days, so heat out of comfort stands above cold out of comfort.
"""

from __future__ import annotations

from collections.abc import Mapping

from monitor.alarms.cycle import Priority
from monitor.checks.findings import AlarmKey, Condition
from monitor.rules import Level

CLIMATE: Mapping[tuple[Condition, Level], Priority] = {
    (Condition.COLD, Level.COMFORT): Priority.LOW,
    (Condition.HOT, Level.COMFORT): Priority.MEDIUM,
    (Condition.DRY, Level.COMFORT): Priority.LOW,
    (Condition.WET, Level.COMFORT): Priority.LOW,
    (Condition.FLOODED, Level.COMFORT): Priority.MEDIUM,
    (Condition.COLD, Level.HARM): Priority.HIGH,
    (Condition.HOT, Level.HARM): Priority.HIGH,
    (Condition.DRY, Level.HARM): Priority.HIGH,
    (Condition.WET, Level.HARM): Priority.HIGH,
    (Condition.FLOODED, Level.HARM): Priority.HIGH,
}
"""By condition and level."""

OTHERS: Mapping[Condition, Priority] = {
    Condition.COLD_AHEAD: Priority.MEDIUM,
    Condition.HEAT_AHEAD: Priority.MEDIUM,
    Condition.MAT_DEAD: Priority.MEDIUM,
    Condition.MAT_STRONG: Priority.MEDIUM,
    Condition.MAT_UNNEEDED: Priority.LOW,
    Condition.MAT_UNTRIED: Priority.LOW,
    Condition.SILENT: Priority.MEDIUM,
    Condition.FAULTY: Priority.MEDIUM,
    Condition.STUCK: Priority.MEDIUM,
    Condition.DRIFTING: Priority.MEDIUM,
    Condition.UNWATCHED: Priority.MEDIUM,
    Condition.ROUND_MISSED: Priority.MEDIUM,
    Condition.POWER_BACK: Priority.MEDIUM,
    Condition.SETTINGS_REFUSED: Priority.MEDIUM,
    Condition.DATABASE_LOST: Priority.LOW,
    Condition.BACKUP_FAILING: Priority.LOW,
    Condition.BROKER_LOST: Priority.HIGH,
    Condition.STORE_FAILING: Priority.HIGH,
    Condition.NOTICES_FAILING: Priority.HIGH,
    Condition.CLOCK_UNSURE: Priority.HIGH,
    Condition.STEP_FAILED: Priority.HIGH,
}
"""Conditions whose priority does not depend on a level."""


def priority_of(key: AlarmKey, level: Level | None) -> Priority:
    """The priority of an alarm at a level; None (it has returned) counts as comfort."""
    return OTHERS.get(key.condition) or CLIMATE[key.condition, level or Level.COMFORT]
