"""Every state with everything that can happen to it: a pair of the table moves as it says, an absent one not."""

import pytest

from alarms.findings import COLD, alarm_in, finding
from monitor.alarms.cycle import (
    MOVES,
    NEEDS_ACKNOWLEDGEMENT,
    SETTLES,
    Event,
    State,
    acknowledge,
    event_of,
    remove,
    step,
)
from monitor.rules import Level

BY_FINDING = (Event.RAISED, Event.ROSE, Event.FELL, Event.RETURNED)
STANDING = [s for s in State if s is not State.NORMAL]


@pytest.mark.parametrize("level", [None, *Level])
@pytest.mark.parametrize("worst", Level)
@pytest.mark.parametrize("state", State)
def test_a_finding_moves_a_state_as_the_table_says_or_not_at_all(state: State, worst: Level, level: Level | None):
    if state is State.RETURNED and not NEEDS_ACKNOWLEDGEMENT[worst]:
        state = State.NORMAL  # such an alarm is never seen in that state
    alarm = alarm_in(state, worst)
    said = finding(level, 200)
    event = event_of(alarm, said)
    after, rows = step(alarm, said, round_at=201, next_number=9)
    if event is None or (state, event) not in MOVES:
        assert (alarm, ()) == (after, rows)
        assert alarm is after
        return
    expected = MOVES[state, event]
    if not NEEDS_ACKNOWLEDGEMENT[worst]:
        expected = SETTLES.get(expected, expected) if level is None else expected
    assert (event, state, expected) == (rows[0].event, rows[0].before, rows[0].after)
    assert expected is (after.state if after else State.NORMAL)


EXPECTED_EVENTS = [
    (State.NORMAL, Level.COMFORT, None, None),
    (State.NORMAL, Level.COMFORT, Level.COMFORT, Event.RAISED),
    (State.NORMAL, Level.COMFORT, Level.HARM, Event.RAISED),
    (State.UNACKNOWLEDGED, Level.COMFORT, None, Event.RETURNED),
    (State.UNACKNOWLEDGED, Level.COMFORT, Level.COMFORT, None),
    (State.UNACKNOWLEDGED, Level.COMFORT, Level.HARM, Event.ROSE),
    (State.UNACKNOWLEDGED, Level.HARM, Level.COMFORT, Event.FELL),
    (State.ACKNOWLEDGED, Level.HARM, None, Event.RETURNED),
    (State.ACKNOWLEDGED, Level.HARM, Level.HARM, None),
    (State.ACKNOWLEDGED, Level.COMFORT, Level.HARM, Event.ROSE),
    (State.ACKNOWLEDGED, Level.HARM, Level.COMFORT, Event.FELL),
    (State.RETURNED, Level.HARM, None, None),
    (State.RETURNED, Level.HARM, Level.COMFORT, Event.RAISED),
    (State.RETURNED, Level.HARM, Level.HARM, Event.RAISED),
]


@pytest.mark.parametrize(("state", "worst", "level", "event"), EXPECTED_EVENTS)
def test_what_a_finding_means(state: State, worst: Level, level: Level | None, event: Event | None):
    assert event is event_of(alarm_in(state, worst), finding(level, 200))


@pytest.mark.parametrize("state", STANDING)
def test_an_acknowledgement_moves_as_the_table_says_or_not_at_all(state: State):
    alarm = alarm_in(state)
    assert alarm is not None
    after, rows = acknowledge(alarm, "ben", at=200, round_at=201)
    if (state, Event.ACKNOWLEDGED) not in MOVES:
        assert after is alarm
        assert () == rows
        return
    (row,) = rows
    assert (Event.ACKNOWLEDGED, state, MOVES[state, Event.ACKNOWLEDGED]) == (row.event, row.before, row.after)
    assert ("ben", "Seen by ben.", 200, 201) == (row.who, row.cause, row.at, row.round_at)


@pytest.mark.parametrize("cause", ["settings changed", "limits changed"])
@pytest.mark.parametrize("state", STANDING)
def test_an_alarm_can_be_removed_from_every_state(state: State, cause: str):
    alarm = alarm_in(state)
    assert alarm is not None
    (row,) = remove(alarm, cause, round_at=300)
    assert (Event.REMOVED, state, State.NORMAL, cause) == (row.event, row.before, row.after, row.cause)
    assert (COLD, 7, 300, Level.HARM) == (row.key, row.number, row.at, row.level)


def test_suppression_is_no_move_of_this_machine():
    others = {
        Event.SUPPRESSED, Event.UNSUPPRESSED, Event.SHELVED, Event.OUT_OF_SERVICE, Event.IN_SERVICE, Event.RENAMED,
    }  # fmt: skip
    assert not {e for _, e in MOVES} & others
    assert {*BY_FINDING, Event.ACKNOWLEDGED, Event.REMOVED, Event.UNSHELVED} == {e for _, e in MOVES}
    assert set(Event) == {e for _, e in MOVES} | others


def test_no_state_is_a_dead_end_and_every_one_can_be_reached():
    assert set(State) == {s for s, _ in MOVES} == set(MOVES.values())
