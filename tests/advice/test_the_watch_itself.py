"""Probes that cannot be trusted and a daemon that is not well: look, and say what nobody watches meanwhile."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.advice.cautions import ICE_WATER
from monitor.advice.watch import PROBE_TROUBLES, SYSTEM_TROUBLES
from monitor.alarms.cycle import State
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.rules import Level
from parts.orchard import advise, alarm


def only(advice):
    assert 1 == len(advice.orders)
    return advice.orders[0]


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (Condition.SILENT, "look at fig-west: battery, cable, place"),
        (Condition.FAULTY, "look at fig-west: plug, cable, damp in it"),
        (Condition.STUCK, "look at fig-west: it never changes"),
    ],
)
def test_one_doubtful_probe_is_looked_at(condition, words):
    order = only(advise([alarm(14, "fig-west", condition)]))
    assert (Act.PROBE_CHECK, "fig-west", words) == (order.act, order.target, order.words)
    assert f"fig-west {condition} since 01:10; meanwhile nobody watches Fig west." == order.why
    assert f"{condition} since 01:10" == order.fact
    assert (("fig",), False, None) == (order.bins, order.urgent, order.needs)


@pytest.mark.parametrize("condition", [Condition.DRIFTING, Condition.SILENT])
def test_what_is_asked_into_ice_water_carries_its_cautions(condition):
    order = only(advise([alarm(14, "fig-west", condition)]))
    assert (condition is Condition.DRIFTING) == ({c.words for c in ICE_WATER} <= {*order.cautions})


def test_several_probes_of_a_bin_are_one_order():
    order = only(advise([alarm(14, "fig-west", Condition.SILENT), alarm(15, "fig-east", Condition.SILENT)]))
    assert "look at 2 of its probes: battery, cable, place" == order.words
    assert "since 01:10" == order.fact
    assert "meanwhile nobody watches Fig west and east temperature" in order.why
    assert (14, 15) == order.alarms


def test_a_moisture_probe_leaves_the_temperature_watched():
    order = only(advise([alarm(14, "plum-near-damp", Condition.SILENT)]))
    assert "meanwhile nobody watches Plum near moisture" in order.why


def test_a_probe_of_the_place_is_no_bins():
    order = only(advise([alarm(14, "shed-air", Condition.SILENT)]))
    assert ((), "look at shed-air: battery, cable, place") == (order.bins, order.words)


def test_an_unwatched_bin_is_said_to_be():
    order = only(advise([alarm(14, "fig", Condition.UNWATCHED)]))
    assert "look at its probes: no good one speaks for it" == order.words
    assert "meanwhile nobody watches Fig" in order.why


def test_what_is_unwatched_and_its_silent_probe_are_one_order():
    order = only(advise([alarm(14, "fig.mat", Condition.UNWATCHED), alarm(15, "fig-mat", Condition.SILENT)]))
    assert ("fig-mat", {14, 15}) == (order.target, set(order.alarms))


@pytest.mark.parametrize("condition", SYSTEM_TROUBLES)
def test_each_trouble_of_the_daemon_has_a_line(condition):
    order = only(advise([alarm(16, "", condition)], place=""))
    assert (Act.SYSTEM_CHECK, SYSTEM_TROUBLES[condition].words) == (order.act, order.words)
    assert "since 01:10" in order.why


def test_a_failing_store_is_urgent_and_a_lost_broker_is_not():
    assert only(advise([alarm(16, "", Condition.STORE_FAILING)], place="")).urgent
    assert not only(advise([alarm(16, "", Condition.BROKER_LOST)], place="")).urgent


def test_when_no_bin_is_watched_any_more_a_failing_store_says_that_first():
    order = only(advise([alarm(16, "", Condition.STORE_FAILING, Level.HARM)], place=""))
    assert "see to the disk: no bin is watched" == order.words


def test_every_condition_is_answered_somewhere():
    of_beds = {Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET, Condition.FLOODED}
    ahead = {Condition.COLD_AHEAD, Condition.HEAT_AHEAD, Condition.MAT_DEAD, Condition.MAT_STRONG}
    ahead |= {Condition.MAT_UNNEEDED, Condition.MAT_UNTRIED}
    others = of_beds | ahead | {Condition.POWER_BACK}
    assert set(Condition) == others | set(PROBE_TROUBLES) | set(SYSTEM_TROUBLES)


def test_an_alarm_that_nothing_answers_is_at_least_looked_at():
    odd = AlarmKey(Subject(Kind.MAT, "long-mat", "shed"), Condition.FLOODED)
    order = only(advise([replace(alarm(17, "fig", Condition.FLOODED), key=odd)]))
    assert (Act.LOOK, (17,)) == (order.act, order.alarms)


def test_suppressed_ended_and_foreign_alarms_count_for_nothing():
    probe = alarm(14, "fig-west", Condition.SILENT)
    suppressed = replace(probe, cause=alarm(1, "", Condition.BROKER_LOST).key)
    returned = replace(probe, number=15, state=State.RETURNED, level=None)
    elsewhere = alarm(18, "sloe", Condition.COLD)
    assert () == advise([suppressed, returned, elsewhere]).orders
