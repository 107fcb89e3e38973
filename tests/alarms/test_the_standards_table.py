"""The moves of ANSI/ISA-18.2-2016 / IEC 62682 as a table of data, row by row.

The paid texts were not read; the rows are from a public course text on alarm management [seen-2nd] and from
OPC 10000-9 1.05.03 [seen], as said beside each. The letters are those of the standard's figure [memory].

Rows that no alarm here takes, and why: latching and reset (E, F: an option of the alarm that we do not take) and
re-alarm by elapsed time (an option of the same kind). Shelved (G), by design (H) and out of service (I) lie beside A to D:
into them leads a way from each of those, and the way back goes by the condition at that moment.
"""

from dataclasses import replace

import pytest

from alarms.findings import HOT, alarm_in, finding
from monitor.alarms.causes import suppress
from monitor.alarms.cycle import Alarm, Event, State, acknowledge, step
from monitor.alarms.holds import Work
from monitor.alarms.quiet import Laid, lay, put_aside
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


def into(letter: str, alarm: Alarm) -> Alarm:
    """The alarm under one of the three suppressions of the figure, from 200 to 300."""
    if letter == "H":
        cause = alarm_in(B)
        assert cause is not None
        return replace(alarm, cause=replace(cause, key=HOT).key)
    shelf = put_aside(alarm, "ana", at=200, until=300) if letter == "G" else None
    work = Work("fig", 200, 300, "ana") if letter == "I" else None
    return lay(alarm, Laid(shelf, work), round_at=200)[0]


def out_of(letter: str, alarm: Alarm) -> Alarm:
    if letter == "H":
        changed, _ = suppress({alarm.key: alarm}, only_probes={}, round_at=300)
        return changed.get(alarm.key, alarm)
    return lay(alarm, Laid(None, None), round_at=300)[0]


@pytest.mark.parametrize("state", [B, C, D])
@pytest.mark.parametrize("letter", ["G", "H", "I"])
def test_into_each_suppression_leads_a_way_and_it_is_evaluated_and_not_told(letter: str, state: State):
    """G, H, I: evaluated, not annunciated [seen-2nd] §2.8."""
    alarm = alarm_in(state)
    assert alarm is not None
    hushed = into(letter, alarm)
    assert (state, True) == (hushed.state, hushed.suppressed)
    if state is not D:
        gone, (row,) = returned(hushed)
        assert Event.RETURNED is row.event
        assert (gone.state if gone else A) in (A, D)


BACK = [
    # letter, state when it is left, state after it, and what the figure has
    ("G", B, B, "B: unacknowledged, for the condition is there"),
    ("G", C, B, "B: unacknowledged, for the condition is there"),
    ("H", B, B, "B: unacknowledged, for the condition is there"),
    ("I", B, B, "B: unacknowledged, for the condition is there"),
    # where ours differs from the figure [memory], and why
    ("H", C, C, "B; ours keeps what was seen: the same alarm is no news because its cause is over"),
    ("I", C, C, "B; ours keeps what was seen: two hours of work are no new occurrence"),
    ("G", D, D, "A; ours keeps harm that is over until somebody has seen it: putting aside is not seeing"),
]


@pytest.mark.parametrize(("letter", "before", "after", "figure"), BACK, ids=[f"{b[0]} from {b[1]}" for b in BACK])
def test_the_way_back_goes_by_the_condition_at_that_moment(letter: str, before: State, after: State, figure: str):
    alarm = alarm_in(before)
    assert alarm is not None
    back = out_of(letter, into(letter, alarm))
    assert (after, False) == (back.state, back.suppressed)
    assert figure.startswith("B:") is (after is B)


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
