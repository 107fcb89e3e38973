"""The moves of ANSI/ISA-18.2-2016 / IEC 62682 as a table of data, row by row.

The paid texts were not read; the rows are from a public course text on alarm management [seen-2nd] and from
OPC 10000-9 1.05.03 [seen], as said beside each. The letters are those of the standard's figure [memory].

Rows that no alarm here takes, and why: latching and reset (E, F: an option of the alarm that we do not take),
re-alarm by elapsed time (an option of the same kind), shelving (G) and out of service (I), which are not built; by
design (H) is tests/alarms/test_one_cause_is_told_once.py.
"""

import pytest

from alarms.findings import alarm_in, finding
from monitor.alarms.cycle import Alarm, State, acknowledge, step
from monitor.rules import Level

A, B, C, D = State.NORMAL, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.RETURNED


def condition_true(alarm: Alarm | None):
    return step(alarm, finding(Level.HARM, 200), round_at=201, next_number=9)


def returned(alarm: Alarm | None):
    return step(alarm, finding(None, 200), round_at=201, next_number=9)


def acknowledged(alarm: Alarm | None):
    assert alarm is not None
    return acknowledge(alarm, "ana", at=200, round_at=201)


ROWS = [
    (A, condition_true, B, "condition true for the on-delay", "[seen-2nd]"),
    (B, acknowledged, C, "acknowledge", "[seen-2nd]"),
    (B, returned, D, "returned to normal, past the deadband, for the off-delay", "[seen-2nd]"),
    (C, returned, A, "returned to normal", "[seen-2nd]"),
    (D, acknowledged, A, "acknowledge", "[seen-2nd]"),
    (D, condition_true, B, "condition true again (re-alarm)", "[seen-2nd] §3.1 diagram"),
]


@pytest.mark.parametrize(("before", "move", "after", "words", "mark"), ROWS, ids=[r[3] for r in ROWS])
def test_row_of_the_standard(before: State, move, after: State, words: str, mark: str):
    alarm, (row,) = move(alarm_in(before))
    assert after is (alarm.state if alarm else State.NORMAL)
    assert (before, after) == (row.before, row.after)


def test_an_alarm_whose_class_needs_no_acknowledgement_goes_from_d_to_a_by_itself():
    """An option per alarm class [seen-2nd] §3.2: here comfort, probes and the daemon."""
    alarm, (row,) = returned(alarm_in(B, worst=Level.COMFORT))
    assert alarm is None
    assert (B, A) == (row.before, row.after)


QUESTIONS = [
    # is the condition there, has anybody seen it: two questions give four states [seen-2nd] §3.1
    (A, False),
    (B, True),
    (C, True),
    (D, False),
]


@pytest.mark.parametrize(("state", "present"), QUESTIONS)
def test_a_state_says_whether_the_condition_is_there(state: State, present: bool):
    alarm = alarm_in(state)
    assert present is (alarm is not None and alarm.active)


def test_acknowledging_says_seen_and_never_clears():
    """§3.4 [seen-2nd]."""
    alarm, _ = acknowledged(alarm_in(B))
    assert alarm is not None
    assert alarm.active
