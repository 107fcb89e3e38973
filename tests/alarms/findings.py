"""Findings and alarms of our own invention for tests of the cycle."""

from __future__ import annotations

from monitor.alarms.cycle import Alarm, State, acknowledge, step
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.readings import Millis
from monitor.rules import Level

FIG = Subject(Kind.BIN, "fig", "shed")
COLD = AlarmKey(FIG, Condition.COLD)
HOT = AlarmKey(FIG, Condition.HOT)
DAEMON = Subject(Kind.DAEMON, "", "")


def finding(level: Level | None, at: Millis = 100, key: AlarmKey = COLD, since: Millis | None = None) -> Finding:
    evidence = Evidence("14 °C, at or below 15 °C for 4 h, longer than 4 h", value=14.0, bound=15.0, unit="°C")
    return Finding(key, level, at, at - 10 if since is None else since, evidence)


def alarm_in(state: State, worst: Level = Level.HARM) -> Alarm | None:
    """An alarm brought to a state by its own moves; None for normal."""
    if state is State.NORMAL:
        return None
    alarm, _ = step(None, finding(worst, 100), round_at=101, next_number=7)
    assert alarm is not None
    if state is State.ACKNOWLEDGED:
        alarm, _ = acknowledge(alarm, "ana", at=110, round_at=111)
    if state is State.RETURNED:
        alarm, _ = step(alarm, finding(None, 110), round_at=111, next_number=8)
    assert alarm is not None
    assert alarm.state is state
    return alarm
