"""The wake rule: harm entered, and something this person may do about it tonight. All else waits for `up`."""

from dataclasses import replace
from datetime import time
from types import SimpleNamespace

import pytest

from monitor.alarms.cycle import Event, State
from monitor.checks.findings import Condition
from monitor.notify.notices import Verdict
from monitor.notify.plan import plan
from monitor.notify.wake import threatened
from monitor.rules import Ability, Level, Person, Remedy
from parts.orchard import ANA, BEN, FIG, PLUM, TZ, advise, alarm, episode, ms, now_at, rules, step

COLD = alarm(12, "fig", Condition.COLD)
HARM = alarm(12, "fig", Condition.COLD, Level.HARM)
NOW = now_at(fig_west=14.2, fig_east=14.8, plum_near=16)
NIGHT, MORNING, DAY = "02:10", "07:00", "14:00"


def told(steps, alarms, *, at, of=None, zones=NOW, untold=None, before=None, past=(), stood=(), place="shed"):
    shed = of or rules()
    advice = {place: advise(alarms, zones, place=place, at=at, of=shed)}
    return plan(
        rules=shed,
        untold=untold or {},
        transitions=steps,
        past=past,
        alarms={a.number: a for a in alarms},
        advice=advice,
        before=before or {},
        now=ms(at),
        next_notice=7,
        stood={a.number: a for a in stood},
    )


def verdicts(planned):
    return [(d.person, d.alarm, d.event, d.verdict) for d in planned.decisions]


def test_harm_with_something_to_do_is_told_at_once_at_night():
    planned = told([step(HARM)], [HARM], at=NIGHT)
    assert [("ana", 12, "raised", Verdict.TOLD)] == verdicts(planned)
    (notice,) = planned.notices
    assert (7, "ana", "shed", True, (12,), ("phone", "mail")) == (
        notice.number, notice.person, notice.place, notice.woke, notice.alarms, notice.channels,
    )  # fmt: skip
    assert 8 == planned.next_notice
    assert (
        planned.decisions[0].reason
        == "ana sleeps, but harm is entered and there is something to do: see that long-mat is on."
    )
    assert 7 == planned.decisions[0].notice


def test_comfort_waits_for_up():
    planned = told([step(COLD)], [COLD], at=NIGHT)
    assert [("ana", 12, "raised", Verdict.HELD)] == verdicts(planned)
    assert () == planned.notices
    assert [step(COLD)] == [one.transition for one in planned.untold]
    assert ms(MORNING) == planned.decisions[0].until
    assert "ana sleeps until 07:00; it is out of comfort, not in harm." == planned.decisions[0].reason


def test_comfort_wakes_for_a_bin_that_says_so():
    shed = rules(bins=(replace(FIG, wake_for=Level.COMFORT), PLUM))
    planned = told([step(COLD)], [COLD], at=NIGHT, of=shed)
    assert [Verdict.TOLD] == [d.verdict for d in planned.decisions]
    assert "the bin says `wake_for: comfort`" in planned.decisions[0].reason


def test_harm_with_nothing_to_do_but_look_waits():
    shed = rules(bins=(replace(FIG, can=frozenset()), PLUM), mats=())
    planned = told([step(HARM)], [HARM], at=NIGHT, of=shed)
    assert [Verdict.HELD] == [d.verdict for d in planned.decisions]
    assert "the advice holds nothing that ana may do about it tonight" in planned.decisions[0].reason


def test_harm_that_only_somebody_else_may_do_something_about_waits():
    water_only = replace(ANA, may=frozenset({Ability.WATER}))
    shed = rules(bins=(replace(FIG, can=frozenset()), PLUM), people=(water_only, BEN))
    planned = told([step(HARM)], [HARM], at=NIGHT, of=shed)
    assert [("ana", Verdict.HELD), ("ben", Verdict.TOLD)] == [(d.person, d.verdict) for d in planned.decisions]


def test_a_dry_bed_is_for_the_morning_even_in_harm():
    dry = alarm(12, "fig", Condition.DRY, Level.HARM, value=62)
    shed = rules(mats=())
    assert [Verdict.HELD] == [d.verdict for d in told([step(dry)], [dry], at=NIGHT, of=shed).decisions]


def test_a_harm_that_waits_wakes_once_there_is_something_to_do():
    shed = rules(bins=(replace(FIG, can=frozenset()), PLUM), mats=())
    waiting = told([step(HARM)], [HARM], at=NIGHT, of=shed).untold
    handy = rules(bins=(replace(FIG, can=frozenset({Remedy.INSULATE})), PLUM), mats=())
    planned = told([], [HARM], at="02:20", of=handy, untold={("ana", "shed"): waiting})
    assert [Verdict.TOLD] == [d.verdict for d in planned.decisions]
    assert (("ana", "shed"),) == planned.told


@pytest.mark.parametrize("event", [Event.RETURNED, Event.REMOVED, Event.FELL])
def test_what_gets_better_never_wakes(event):
    alarms = [COLD] if event is Event.FELL else []
    planned = told([step(HARM, event, level=Level.COMFORT)], alarms, at=NIGHT, stood=[HARM], before=standing(HARM))
    assert [Verdict.HELD] == [d.verdict for d in planned.decisions if d.verdict is not Verdict.WITHHELD]
    assert () == planned.notices


def standing(*alarms):
    return {"shed": advise(list(alarms), NOW)}


def test_a_rise_from_comfort_to_harm_wakes_although_the_acts_are_the_same():
    planned = told([step(HARM, Event.ROSE)], [HARM], at=NIGHT, before=standing(HARM))
    assert [Verdict.TOLD] == [d.verdict for d in planned.decisions]


def test_whoever_is_woken_hears_what_was_held_for_that_place_too():
    silent = alarm(14, "plum-near", Condition.SILENT)
    held = told([step(silent)], [silent], at="01:50").untold
    planned = told([step(HARM)], [HARM, silent], at=NIGHT, untold={("ana", "shed"): held})
    (notice,) = planned.notices
    assert (12, 14) == notice.alarms
    assert any("look at plum-near" in line for line in notice.lines)
    assert (("ana", "shed"),) == planned.told
    assert () == planned.untold
    assert [(14, Verdict.TOLD), (12, Verdict.TOLD)] == [(d.alarm, d.verdict) for d in planned.decisions]
    assert "ana is woken by alarm 12 here, so this rides along." == planned.decisions[0].reason


def test_whoever_is_woken_reads_nothing_of_what_they_were_told_before():
    silent = alarm(14, "plum-near", Condition.SILENT)
    by_night = told([step(HARM)], [HARM, silent], at=NIGHT)
    by_day = told([step(HARM)], [HARM, silent], at=DAY)
    assert not any("plum-near" in line for line in by_night.notices[0].lines)
    assert any(line.startswith("Still: Plum: look at plum-near") for line in by_day.notices[0].lines)


def test_what_was_held_for_another_place_goes_on_waiting():
    sloe = alarm(15, "sloe", Condition.COLD)
    held = told([step(sloe)], [sloe], at="01:50", place="porch").untold
    planned = told([step(HARM)], [HARM, sloe], at=NIGHT, untold={("ana", "porch"): held})
    assert () == planned.told
    assert ["shed"] == [n.place for n in planned.notices]


def test_a_past_episode_never_wakes_and_is_told_at_up():
    late = episode("fig", Condition.COLD, "00:10", "01:40", Level.HARM, 14.1)
    planned = told([], [], at=NIGHT, past=[late])
    assert [("ana", 0, "past episode", Verdict.HELD)] == verdicts(planned)
    morning = told([], [], at=MORNING, untold={("ana", "shed"): planned.untold})
    assert [("ana", 0, "past episode", Verdict.TOLD)] == verdicts(morning)
    assert "Fig: over, too cold (harm) 00:10 to 01:40" == morning.notices[0].title
    assert () == morning.notices[0].alarms


@pytest.mark.parametrize(
    ("condition", "verdict"),
    [
        (Condition.STORE_FAILING, Verdict.TOLD),
        (Condition.BROKER_LOST, Verdict.HELD),
        (Condition.NOTICES_FAILING, Verdict.HELD),
        (Condition.CLOCK_UNSURE, Verdict.HELD),
        (Condition.STEP_FAILED, Verdict.HELD),
        (Condition.ROUND_MISSED, Verdict.HELD),
        (Condition.POWER_BACK, Verdict.HELD),
    ],
)
def test_of_the_daemons_own_troubles_only_a_failing_store_cannot_wait(condition, verdict):
    trouble = alarm(16, "", condition)
    planned = told([step(trouble)], [trouble], at=NIGHT, place="")
    assert [verdict] == [d.verdict for d in planned.decisions]


def test_with_the_clock_unsure_harm_is_told_whatever_the_hour_seems_to_be():
    unsure = alarm(16, "", Condition.CLOCK_UNSURE)
    shed = rules(bins=(replace(FIG, can=frozenset()), PLUM), mats=())
    planned = told([step(HARM)], [HARM, unsure], at=NIGHT, of=shed)
    assert [Verdict.TOLD] == [d.verdict for d in planned.decisions]
    assert "the clock is unsure" in planned.decisions[0].reason


def test_somebody_without_sleeping_hours_is_told_when_it_happens():
    owl = Person("owl", ("mail",))
    planned = told([step(COLD)], [COLD], at=NIGHT, of=rules(people=(owl,)))
    assert [("owl", Verdict.TOLD)] == [(d.person, d.verdict) for d in planned.decisions]
    assert not planned.notices[0].woke


def test_each_sleeps_by_their_own_clock():
    early = replace(ANA, id="early", up=time(5))
    planned = told([step(COLD)], [COLD], at="06:00", of=rules(people=(ANA, early)))
    assert [("ana", Verdict.HELD), ("early", Verdict.TOLD)] == [(d.person, d.verdict) for d in planned.decisions]


def test_an_acknowledged_harm_that_waits_still_waits_for_up():
    seen = replace(HARM, state=State.ACKNOWLEDGED)
    shed = rules(bins=(replace(FIG, can=frozenset()), PLUM), mats=())
    waiting = told([step(HARM)], [HARM], at=NIGHT, of=shed).untold
    planned = told([], [seen], at=MORNING, of=shed, untold={("ana", "shed"): waiting})
    assert [Verdict.TOLD] == [d.verdict for d in planned.decisions]


@pytest.mark.parametrize(
    ("outlook", "said"),
    [
        ({}, None),
        ({"fig": "05:00"}, "harm was expected in fig"),
        ({"fig": "07:00"}, None),  # by then they are up
        ({"gone": "05:00"}, None),  # no bin of the settings
        ({"gone": "05:00", "plum": "06:59"}, "harm was expected in plum"),
    ],
)
def test_a_bed_is_threatened_by_what_is_expected_of_it_before_they_are_up(outlook, said):
    expected = {bed: ms(at) for bed, at in outlook.items()}
    desk = SimpleNamespace(alarms={}, outlook=expected, rules=rules(), now=ms("02:10"), tz=TZ)
    assert said == threatened(desk, ANA)
