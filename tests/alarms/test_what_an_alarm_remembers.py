"""Numbers, levels, times and causes as an alarm moves; who must acknowledge."""

import pytest

from alarms.findings import COLD, DAEMON, alarm_in, finding
from monitor.alarms.cycle import Alarm, Event, State, Transition, acknowledge, step
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding
from monitor.rules import Level

COMFORT, HARM = Level.COMFORT, Level.HARM


def moved(*moves: Level | str | None) -> tuple[Alarm | None, list[Transition]]:
    """An alarm after findings at these levels and acknowledgements, one a round, the first at 100."""
    alarm, rows = None, []
    for n, move in enumerate(moves):
        at = 100 * (n + 1)
        if isinstance(move, Level) or move is None:
            alarm, new = step(alarm, finding(move, at), round_at=at + 1, next_number=n + 1)
        else:
            assert alarm is not None
            alarm, new = acknowledge(alarm, move, at=at, round_at=at + 1)
        rows += new
    return alarm, rows


def test_a_new_alarm_takes_the_next_number_and_the_readings_times():
    alarm, (row,) = moved(COMFORT)
    assert alarm is not None
    assert (1, State.UNACKNOWLEDGED, COMFORT, COMFORT) == (alarm.number, alarm.state, alarm.level, alarm.worst)
    assert (90, 100, 100) == (alarm.since, alarm.raised_at, alarm.changed_at)
    assert (COLD, 1, Event.RAISED, 100, 101) == (row.key, row.number, row.event, row.at, row.round_at)
    assert finding(COMFORT).evidence == row.evidence


def test_a_rise_is_news_and_clears_the_acknowledgement():
    alarm, rows = moved(COMFORT, "ana", HARM)
    assert alarm is not None
    assert (State.UNACKNOWLEDGED, HARM, HARM) == (alarm.state, alarm.level, alarm.worst)
    assert Event.ROSE is rows[-1].event
    assert (90, 100, 300) == (alarm.since, alarm.raised_at, alarm.changed_at)


def test_a_fall_keeps_the_acknowledgement():
    alarm, rows = moved(HARM, "ana", COMFORT)
    assert alarm is not None
    assert (State.ACKNOWLEDGED, COMFORT, Event.FELL) == (alarm.state, alarm.level, rows[-1].event)


def test_what_was_seen_is_no_longer_to_be_seen():
    alarm, rows = moved(HARM, "ana")
    assert alarm is not None
    assert (HARM, None) == (alarm.level, alarm.worst)
    assert (Event.ACKNOWLEDGED, HARM) == (rows[-1].event, rows[-1].level)
    assert COMFORT is moved(HARM, "ana", COMFORT, None)[1][-1].level


def test_a_fall_that_nobody_saw_keeps_waiting():
    alarm, _ = moved(HARM, COMFORT)
    assert alarm is not None
    assert (State.UNACKNOWLEDGED, COMFORT, HARM) == (alarm.state, alarm.level, alarm.worst)


def test_the_same_level_again_changes_nothing():
    alarm = alarm_in(State.UNACKNOWLEDGED)
    assert (alarm, ()) == step(alarm, finding(HARM, 900), round_at=901, next_number=9)


def test_comfort_is_over_by_itself():
    alarm, rows = moved(COMFORT, None)
    assert alarm is None
    assert (Event.RETURNED, State.NORMAL, COMFORT) == (rows[-1].event, rows[-1].after, rows[-1].level)


def test_harm_waits_for_somebody_even_when_it_is_over():
    alarm, rows = moved(HARM, None)
    assert alarm is not None
    assert (State.RETURNED, None, HARM) == (alarm.state, alarm.level, alarm.worst)
    assert ("Cold is over, and nobody has seen it yet.", HARM) == (rows[-1].cause, rows[-1].level)


def test_harm_that_came_back_through_comfort_waits_as_well():
    alarm, _ = moved(HARM, COMFORT, None)
    assert alarm is not None
    assert State.RETURNED is alarm.state


def test_harm_that_was_seen_is_over_when_it_is_over():
    assert moved(HARM, "ana", COMFORT, None)[0] is None
    assert moved(HARM, "ana", None)[0] is None


def test_harm_again_after_comfort_was_seen_waits_again():
    alarm, _ = moved(COMFORT, "ana", HARM, COMFORT, None)
    assert alarm is not None
    assert State.RETURNED is alarm.state


def test_a_re_alarm_is_the_same_occurrence_with_a_new_time():
    alarm, rows = moved(HARM, None, HARM)
    assert alarm is not None
    assert (1, State.UNACKNOWLEDGED, 300, 290) == (alarm.number, alarm.state, alarm.raised_at, alarm.since)
    assert (Event.RAISED, State.RETURNED) == (rows[-1].event, rows[-1].before)
    assert "again" in rows[-1].cause


def test_a_re_alarm_at_comfort_still_remembers_the_harm_nobody_saw():
    alarm, _ = moved(HARM, None, COMFORT)
    assert alarm is not None
    assert (COMFORT, HARM) == (alarm.level, alarm.worst)
    assert State.RETURNED is moved(HARM, None, COMFORT, None)[0].state  # type: ignore[union-attr]


def test_the_next_occurrence_has_the_next_number():
    alarm, _ = moved(COMFORT, None, COMFORT)
    assert alarm is not None
    assert 3 == alarm.number


def test_what_it_was_raised_for_stays_with_it_when_it_has_returned():
    alarm, rows = moved(HARM, None)
    assert alarm is not None
    assert finding(HARM).evidence == alarm.evidence
    assert rows[-1].evidence is not None


SENTENCES = [
    ((COMFORT,), "Cold is there at the level of comfort."),
    ((COMFORT, HARM), "Cold rose to harm."),
    ((HARM, COMFORT), "Cold fell to comfort."),
    ((COMFORT, None), "Cold is over."),
    ((HARM, "ana", None), "Cold is over."),
    ((HARM, None, HARM), "Cold is there at the level of harm again, before anybody had seen that it was over."),
    ((COMFORT, "ana"), "Seen by ana."),
]


@pytest.mark.parametrize(("moves", "cause"), SENTENCES)
def test_every_step_has_a_cause_in_one_sentence(moves: tuple[Level | str | None, ...], cause: str):
    assert cause == moved(*moves)[1][-1].cause


def test_a_cause_without_a_limit_says_what_the_part_itself_says():
    key = AlarmKey(DAEMON, Condition.STORE_FAILING)
    _, (row,) = step(None, Finding(key, COMFORT, 1, 1, Evidence("disk full")), round_at=1, next_number=1)
    assert "Store failing is there at the level of comfort: disk full." == row.cause
