"""The course's timing diagram second by second [seen-2nd] §3.6, recomputed; the acknowledgement held down §3.4.

One sample a second; `#` the condition, on-delay 3 s, acknowledgements at 9 and 20; not latching. Expected: N
normal, U unacknowledged, A acknowledged, R returned to normal unacknowledged.
"""

from alarms.findings import COLD, FIG, HOT, alarm_in, finding
from checks.beds import bed, bound, zone
from monitor.alarms.cycle import Alarm, State, acknowledge, step
from monitor.checks.delays import CLEAR
from monitor.checks.delays import step as step_condition
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding
from monitor.checks.watches import Watch, watches
from monitor.readings import SECOND, Measures, Millis
from monitor.rules import Harm, Level, Limits

CONDITION = "_#__#######__#####_____"
EXPECTED = "NNNNNNNUUAANNNNNUURRNNN"
LETTERS = {
    State.NORMAL: "N",
    State.UNACKNOWLEDGED: "U",
    State.ACKNOWLEDGED: "A",
    State.RETURNED: "R",
}


def three_seconds() -> Watch:
    harm = Harm(below=True, bound=bound(10), lasting=3 * SECOND)
    limits = Limits(None, None, harm=(harm,), deadband=0, off_delay=0)
    (only,) = watches(bed(zone("west"), limits={Measures.TEMPERATURE: limits}))
    return only


def lived(condition: str, seen_at: set[int]) -> str:
    rule, phase, alarm = three_seconds(), CLEAR, None
    states = ""
    for second, mark in enumerate(condition):
        at: Millis = second * SECOND
        if alarm and second in seen_at:  # before the round's findings: it existed before
            alarm, _ = acknowledge(alarm, "ana", at=at, round_at=at)
        phase = step_condition(rule, phase, at=at, value=9.0 if mark == "#" else 11.0)
        level = rule.level if phase.present else None
        said = Finding(rule.key, level, at, phase.began, Evidence("", bound=10.0))
        alarm, _ = step(alarm, said, round_at=at, next_number=second + 1)
        states += LETTERS[alarm.state if alarm else State.NORMAL]
    return states


def test_the_timing_diagram_second_by_second():
    assert EXPECTED == lived(CONDITION, {9, 20})


def test_without_anybody_looking_it_stays_returned():
    assert "NNNNNNNUUUURRRRRUURRRRR" == lived(CONDITION, set())


def test_an_acknowledgement_held_down_acknowledges_only_what_existed_before_it():
    first = alarm_in(State.UNACKNOWLEDGED)
    assert first is not None
    alarms: dict[AlarmKey, Alarm] = {COLD: first}
    for second in range(3):
        for alarm in [
            a for a in alarms.values() if a.number == first.number
        ]:  # the link of the first, again and again
            after, _ = acknowledge(alarm, "ana", at=200 + second, round_at=200 + second)
            assert after is not None
            alarms[alarm.key] = after
        hot, _ = step(alarms.get(HOT), finding(Level.HARM, 200, key=HOT), round_at=200 + second, next_number=8)
        assert hot is not None
        alarms[HOT] = hot
    assert (State.ACKNOWLEDGED, State.UNACKNOWLEDGED) == (alarms[COLD].state, alarms[HOT].state)


def test_an_alarm_that_comes_again_in_the_round_of_its_acknowledgement_is_a_new_one():
    alarm = alarm_in(State.RETURNED)
    assert alarm is not None
    gone, _ = acknowledge(alarm, "ana", at=200, round_at=201)
    again, (row,) = step(gone, finding(Level.HARM, 200), round_at=201, next_number=9)
    assert gone is None
    assert again is not None
    assert (State.UNACKNOWLEDGED, 9, State.NORMAL) == (again.state, again.number, row.before)
    assert AlarmKey(FIG, Condition.COLD) == again.key
