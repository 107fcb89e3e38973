"""The daemon's own troubles as findings. Delays: 5 min for the broker, 15 min for notices (proposals)."""

import pytest

from checks.beds import HOUR, MINUTE, T0, bed, site
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.checks.system import DAEMON, DELAYS, System, look_at_system
from monitor.readings import Millis
from monitor.rules import Level

RULES = site(bed())
FIG = Subject(Kind.BIN, "fig", "shed")


def said(system: System, now: Millis, standing: set[AlarmKey] = frozenset()):  # type: ignore[assignment]
    return look_at_system(system, rules=RULES, now=now, standing=standing)


def conditions(system: System, now: Millis) -> list[Condition]:
    return [f.key.condition for f in said(system, now)]


def test_a_healthy_daemon_says_nothing():
    assert [] == said(System(), T0)


@pytest.mark.parametrize(
    ("system", "condition", "delay"),
    [
        (System(link_up=False, link_since=T0), Condition.BROKER_LOST, 5 * MINUTE),
        (System(notices_failing={"mail": T0, "phone": T0 + HOUR}), Condition.NOTICES_FAILING, 15 * MINUTE),
        (System(clock_unsure_since=T0), Condition.CLOCK_UNSURE, 5 * MINUTE),
    ],
)
def test_a_trouble_is_said_when_it_has_lasted(system: System, condition: Condition, delay: Millis):
    if delay:
        assert [] == said(system, T0 + delay - 1)
    (finding,) = said(system, T0 + delay)
    assert (AlarmKey(DAEMON, condition), Level.COMFORT, T0, T0 + delay) == (
        finding.key,
        finding.level,
        finding.since,
        finding.at,
    )


@pytest.mark.parametrize(
    ("system", "condition", "words"),
    [
        (System(store_error="disk full"), Condition.STORE_FAILING, "the store cannot be written: disk full"),
        (System(round_missed=150.0), Condition.ROUND_MISSED, "the last round came 2 min 30 s late"),
    ],
)
def test_what_cannot_wait_is_said_at_once(system: System, condition: Condition, words: str):
    (finding,) = said(system, T0)
    assert (condition, words) == (finding.key.condition, finding.evidence.arithmetic)


def test_being_blind_is_harm_and_the_same_trouble():
    (finding,) = said(System(store_error="the disk is full", blind=True), T0)
    assert (Condition.STORE_FAILING, Level.HARM) == (finding.key.condition, finding.level)
    assert finding.evidence.arithmetic.startswith("no bin is watched: newer readings wait at the broker unseen")
    assert [] == said(System(blind=True), T0), "only while the store fails"


def test_a_bin_whose_step_failed_is_named():
    (finding,) = said(System(steps_failed={"fig": "KeyError: 'x'"}), T0)
    assert AlarmKey(FIG, Condition.STEP_FAILED) == finding.key
    assert "the bin could not be judged: KeyError: 'x'" == finding.evidence.arithmetic


def test_why_the_broker_is_lost_is_said_in_its_own_words():
    lost = System(link_up=False, link_since=T0, link_detail="connection refused")
    (finding,) = said(lost, T0 + HOUR)
    assert (
        "the broker has not answered (connection refused) for 1 h, longer than 5 min"
        == finding.evidence.arithmetic
    )


@pytest.mark.parametrize("condition", DELAYS)
def test_every_trouble_ends_when_it_is_over(condition: Condition):
    subject = FIG if condition is Condition.STEP_FAILED else DAEMON
    (finding,) = said(System(), T0, {AlarmKey(subject, condition)})
    assert (AlarmKey(subject, condition), None, T0) == (finding.key, finding.level, finding.at)


def test_alarms_of_beds_are_none_of_its_business():
    assert [] == said(System(), T0, {AlarmKey(FIG, Condition.COLD), AlarmKey(FIG, Condition.UNWATCHED)})


def test_several_troubles_are_said_together():
    system = System(link_up=False, link_since=T0, store_error="disk full", steps_failed={"fig": "x"})
    assert {Condition.BROKER_LOST, Condition.STORE_FAILING, Condition.STEP_FAILED} == set(
        conditions(system, T0 + HOUR)
    )


def test_we_listen_since_the_link_is_up_and_are_deaf_without_it():
    assert T0 == System(link_up=True, link_since=T0).listening_since
    assert System(link_up=False, link_since=T0).listening_since is None
