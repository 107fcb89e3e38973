"""Suppression by design: what one alarm explains is recorded and not told; the cause itself always is.

ISA-18.2: by design is logic, while the state lasts; suppressed alarms are still evaluated and logged; never
suppress the alarm that names the cause [seen-2nd] §2.8, §2.9. Afterwards it is told as it then is [memory].
"""

from dataclasses import replace

import pytest

from alarms.findings import COLD, DAEMON, FIG, finding
from monitor.alarms.causes import EVERYWHERE, MOVES, OF_THE_ONLY_PROBE, Voice, suppress, voice
from monitor.alarms.cycle import Alarm, Event, State, step
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.rules import Level

PROBE = Subject(Kind.PROBE, "fig-west", "shed")
ONLY = {FIG: PROBE}


def standing(*keys: AlarmKey) -> dict[AlarmKey, Alarm]:
    found = {}
    for number, key in enumerate(keys, start=1):
        alarm, _ = step(None, finding(Level.COMFORT, 100 * number, key=key), round_at=999, next_number=number)
        assert alarm is not None
        found[key] = alarm
    return found


def of(condition: Condition, subject: Subject = PROBE) -> AlarmKey:
    return AlarmKey(subject, condition)


LOST, FAILING = of(Condition.BROKER_LOST, DAEMON), of(Condition.STORE_FAILING, DAEMON)
UNWATCHED, SILENT = of(Condition.UNWATCHED, FIG), of(Condition.SILENT)


@pytest.mark.parametrize("cause", [LOST, FAILING])
def test_a_deaf_or_blind_daemon_explains_every_silence(cause: AlarmKey):
    other = of(Condition.SILENT, Subject(Kind.PROBE, "plum-near", "porch"))
    alarms = standing(SILENT, other, UNWATCHED, cause, COLD)
    changed, rows = suppress(alarms, only_probes=ONLY, round_at=1000)
    assert {SILENT, other, UNWATCHED} == set(changed)
    assert {cause} == {a.cause for a in changed.values()}
    assert {Event.SUPPRESSED} == {r.event for r in rows}


@pytest.mark.parametrize("trouble", [Condition.SILENT, Condition.FAULTY, Condition.STUCK])
def test_the_trouble_of_the_only_probe_explains_that_nobody_watches(trouble: Condition):
    changed, (row,) = suppress(standing(of(trouble), UNWATCHED), only_probes=ONLY, round_at=1000)
    assert [UNWATCHED] == list(changed)
    assert (Event.SUPPRESSED, State.UNACKNOWLEDGED, State.UNACKNOWLEDGED) == (row.event, row.before, row.after)
    assert (f"Explained by {trouble} (probe:fig-west).", 200, 1000) == (row.cause, row.at, row.round_at)


def test_one_of_several_probes_explains_nothing():
    assert ({}, ()) == suppress(standing(SILENT, UNWATCHED), only_probes={}, round_at=1000)


def test_the_cause_itself_is_never_suppressed():
    alarms = standing(LOST, FAILING, SILENT, UNWATCHED)
    changed, _ = suppress(alarms, only_probes=ONLY, round_at=1000)
    assert not {LOST, FAILING} & set(changed)


def test_what_explains_is_never_explained_by_what_it_explains():
    explained = {**EVERYWHERE, **OF_THE_ONLY_PROBE}

    def reached(start: Condition, seen: frozenset[Condition] = frozenset()) -> set[Condition]:
        following = explained.get(start, frozenset()) - seen
        return set(following).union(*(reached(c, seen | following) for c in following))

    assert not [c for c in explained if c in reached(c)]


def test_a_bed_that_is_cold_is_told_whatever_its_probe_does_next():
    changed, _ = suppress(standing(COLD, SILENT, UNWATCHED, LOST), only_probes=ONLY, round_at=1000)
    assert COLD not in changed


def test_it_is_told_again_when_its_cause_is_over():
    alarms = standing(SILENT, LOST)
    alarms |= suppress(alarms, only_probes=ONLY, round_at=1000)[0]
    assert Voice.SUPPRESSED is voice(alarms[SILENT])
    del alarms[LOST]
    changed, (row,) = suppress(alarms, only_probes=ONLY, round_at=1060)
    assert changed[SILENT].cause is None
    assert (Event.UNSUPPRESSED, 1060, "What explained it is over.") == (row.event, row.at, row.cause)


@pytest.mark.parametrize("cause", [SILENT, LOST])
def test_a_cause_that_has_returned_explains_nothing(cause: AlarmKey):
    alarms = standing(cause, UNWATCHED)
    alarms[cause] = replace(alarms[cause], state=State.RETURNED, level=None)
    assert ({}, ()) == suppress(alarms, only_probes=ONLY, round_at=1000)


def test_what_is_over_needs_no_explanation():
    alarms = standing(SILENT, UNWATCHED)
    alarms[UNWATCHED] = replace(alarms[UNWATCHED], state=State.RETURNED, level=None)
    assert ({}, ()) == suppress(alarms, only_probes=ONLY, round_at=1000)


def test_another_cause_takes_over_without_a_word():
    alarms = standing(SILENT, UNWATCHED)
    alarms |= suppress(alarms, only_probes=ONLY, round_at=1000)[0]
    alarms |= standing(LOST)
    changed, rows = suppress(alarms, only_probes=ONLY, round_at=1060)
    assert LOST == changed[UNWATCHED].cause
    assert [SILENT] == [r.key for r in rows]


def test_nothing_changes_while_nothing_changes():
    alarms = standing(SILENT, UNWATCHED, LOST)
    alarms |= suppress(alarms, only_probes=ONLY, round_at=1000)[0]
    assert ({}, ()) == suppress(alarms, only_probes=ONLY, round_at=1060)


def test_a_suppressed_alarm_still_moves_and_keeps_its_cause():
    alarms = standing(SILENT, LOST)
    alarms |= suppress(alarms, only_probes=ONLY, round_at=1000)[0]
    after, (row,) = step(alarms[SILENT], finding(None, 300, key=SILENT), round_at=1060, next_number=9)
    assert after is None
    assert Event.RETURNED is row.event


@pytest.mark.parametrize("state", Voice)
@pytest.mark.parametrize("event", [Event.SUPPRESSED, Event.UNSUPPRESSED])
def test_the_little_table_of_it(state: Voice, event: Event):
    expected = {
        (Voice.TOLD, Event.SUPPRESSED): Voice.SUPPRESSED,
        (Voice.SUPPRESSED, Event.UNSUPPRESSED): Voice.TOLD,
    }
    assert expected.get((state, event)) is MOVES.get((state, event))
