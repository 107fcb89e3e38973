"""Awake: one notice a round, person and place; and a reason for each step that is told, held or not told."""

from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event, State
from monitor.checks.findings import Condition
from monitor.notify.notices import Untold, Verdict
from monitor.notify.plan import plan
from monitor.readings import HOUR
from monitor.rules import Level
from parts.orchard import ANA, AWAKE, BEN, LONG_MAT, advise, alarm, episode, evidence_of, ms, now_at, rules, step

COLD = alarm(12, "fig", Condition.COLD, since="12:00")
HARM = alarm(12, "fig", Condition.COLD, Level.HARM, since="12:00")
PLUM_COLD = alarm(13, "plum", Condition.COLD, value=8.0, since="12:00")
SILENT = alarm(14, "fig-west", Condition.SILENT, since="12:00")
NOW = now_at(fig_west=18.0, fig_east=19.0, plum_near=8.0)


def told(steps, alarms, *, at="14:00", of=None, untold=None, before=None, past=(), stood=(), places=("shed",)):
    shed = of or rules()
    return plan(
        rules=shed,
        untold=untold or {},
        transitions=steps,
        past=past,
        alarms={a.number: a for a in alarms},
        advice={p: advise(alarms, NOW, place=p, at=at, of=shed) for p in places},
        before={} if before is None else before,
        now=ms(at),
        next_notice=1,
        stood={a.number: a for a in stood},
    )


def standing(*alarms):
    return {"shed": advise(list(alarms), NOW, at="14:00")}


def only_reason(planned):
    (decision,) = planned.decisions
    return decision.verdict, decision.reason


def test_several_steps_in_one_place_are_one_notice():
    planned = told([step(COLD), step(PLUM_COLD), step(SILENT)], [COLD, PLUM_COLD, SILENT])
    (notice,) = planned.notices
    assert (12, 13, 14) == notice.alarms
    assert [1, 1, 1] == [d.notice for d in planned.decisions]
    assert ["ana is awake."] * 3 == [d.reason for d in planned.decisions]


def test_two_places_are_two_notices_with_rising_numbers():
    sloe = alarm(15, "sloe", Condition.COLD, since="12:00")
    planned = told([step(COLD), step(sloe)], [COLD, sloe], places=("shed", "porch"))
    assert [(1, "porch"), (2, "shed")] == [(n.number, n.place) for n in planned.notices]
    assert 3 == planned.next_notice


def test_two_people_are_two_notices():
    planned = told([step(COLD)], [COLD], of=rules(people=(ANA, BEN)))
    assert [(1, "ana"), (2, "ben")] == [(n.number, n.person) for n in planned.notices]


def test_nothing_happening_is_nothing_decided():
    planned = told([], [COLD], before=standing(COLD))
    assert ((), (), (), ()) == (planned.notices, planned.decisions, planned.told, planned.untold)


def test_a_second_alarm_that_changes_nothing_to_do_is_not_told():
    east = alarm(15, "fig.east", Condition.COLD, since="12:30")
    planned = told([step(east)], [COLD, east], before=standing(COLD))
    assert (Verdict.WITHHELD, "What there is to do has not changed.") == only_reason(planned)
    assert () == planned.notices


def test_harm_is_told_even_if_what_to_do_is_the_same():
    planned = told([step(HARM, Event.ROSE)], [HARM], before=standing(HARM))
    assert Verdict.TOLD is only_reason(planned)[0]


def test_a_fall_from_harm_is_told_when_it_changes_what_to_do():
    fall, awake = [step(COLD, Event.FELL)], rules(people=(AWAKE,))
    assert Verdict.TOLD is only_reason(told(fall, [COLD], before=standing(HARM), of=awake))[0]
    assert Verdict.WITHHELD is only_reason(told(fall, [COLD], before=standing(COLD), of=awake))[0]
    assert Verdict.HELD is only_reason(told(fall, [COLD], before=standing(HARM)))[0], "what gets better can wait"


def test_over_is_told_with_its_span_from_what_stood_before():
    over = step(COLD, Event.RETURNED, "14:00", evidence=evidence_of("fig", Condition.COLD, Level.COMFORT, 22.3))
    planned = told([over], [], before=standing(COLD), stood=[COLD], of=rules(people=(AWAKE,)))
    assert "Fig: over, too cold 12:00 to 14:00" == planned.notices[0].title
    assert "Measured then: 22.3 °C, back above 21.5 °C. Nothing to do about it." == planned.notices[0].lines[1]


def test_over_beside_something_that_still_stands():
    over = step(COLD, Event.RETURNED, "14:00")
    planned = told(
        [over], [PLUM_COLD], before=standing(COLD, PLUM_COLD), stood=[COLD, PLUM_COLD], of=rules(people=(AWAKE,))
    )
    (notice,) = planned.notices
    assert "Still: Plum: feed less while it is cold; the bed is 8.0 °C" == notice.lines[-1]


def test_over_of_something_that_was_suppressed_is_not_told():
    broker = alarm(1, "", Condition.BROKER_LOST)
    hidden = replace(SILENT, cause=broker.key)
    verdict, reason = only_reason(told([step(SILENT, Event.RETURNED)], [], stood=[hidden], before=standing(COLD)))
    assert Verdict.WITHHELD is verdict
    assert "Suppressed by design: daemon broker lost explains it. So nobody was told that it began." == reason


def test_what_is_suppressed_is_not_told_and_the_reason_names_its_cause():
    broker = alarm(1, "", Condition.BROKER_LOST)
    hidden = replace(SILENT, cause=broker.key)
    planned = told([step(SILENT), step(SILENT, Event.SUPPRESSED)], [hidden])
    assert [Verdict.WITHHELD] * 2 == [d.verdict for d in planned.decisions]
    assert {"Suppressed by design: daemon broker lost explains it."} == {d.reason for d in planned.decisions}


def test_what_is_no_longer_suppressed_and_still_there_is_told():
    planned = told([step(SILENT, Event.UNSUPPRESSED)], [SILENT], before=standing())
    assert Verdict.TOLD is only_reason(planned)[0]


def test_what_is_no_longer_suppressed_but_over_is_not():
    returned = replace(SILENT, state=State.RETURNED, level=None)
    planned = told([step(SILENT, Event.UNSUPPRESSED)], [returned], before=standing())
    assert (Verdict.WITHHELD, "It is over.") == only_reason(planned)


def test_an_acknowledgement_asks_nothing_of_anybody():
    seen = replace(COLD, state=State.ACKNOWLEDGED)
    planned = told([step(COLD, Event.ACKNOWLEDGED, who="ben")], [seen], before=standing(COLD))
    assert (Verdict.WITHHELD, "Seen by ben: that asks nothing of anybody.") == only_reason(planned)


@pytest.mark.parametrize(
    ("hears", "verdict"),
    [(None, Verdict.TOLD), ({"fig"}, Verdict.TOLD), ({"shed"}, Verdict.TOLD), ({"plum"}, Verdict.WITHHELD)],
)
def test_who_hears_of_a_bin(hears, verdict):
    person = replace(ANA, hears=None if hears is None else frozenset(hears))
    planned = told([step(COLD)], [COLD], of=rules(people=(person,)))
    assert verdict is planned.decisions[0].verdict
    if verdict is Verdict.WITHHELD:
        assert "ana hears only of plum." == planned.decisions[0].reason


def test_whoever_hears_of_one_bin_reads_nothing_of_the_others():
    person = replace(AWAKE, hears=frozenset({"plum"}))
    planned = told([step(COLD), step(PLUM_COLD)], [COLD, PLUM_COLD], of=rules(people=(person,)))
    (notice,) = planned.notices
    assert (13,) == notice.alarms
    assert not any("Fig" in line for line in (*notice.lines, *notice.more))


def test_the_air_of_a_place_concerns_every_bin_in_it():
    air = alarm(17, "shed-air", Condition.SILENT, since="12:00")
    for hears, verdict in (("plum", Verdict.TOLD), ("sloe", Verdict.WITHHELD)):
        person = replace(ANA, hears=frozenset({hears}))
        planned = told([step(air)], [air], of=rules(people=(person,)))
        assert verdict is planned.decisions[0].verdict


def test_everybody_hears_of_the_daemon():
    person = replace(ANA, hears=frozenset({"plum"}))
    broker = alarm(1, "", Condition.BROKER_LOST, since="12:00")
    planned = told([step(broker)], [broker], of=rules(people=(person,)), places=("",))
    assert [("", (1,))] == [(n.place, n.alarms) for n in planned.notices]


def test_somebody_without_a_channel_cannot_be_told():
    planned = told([step(COLD)], [COLD], of=rules(people=(replace(ANA, channels=()),)))
    assert (Verdict.WITHHELD, "ana has no channel.") == only_reason(planned)


def test_at_up_one_notice_tells_what_stands_then_and_what_is_over():
    silent = alarm(14, "fig-west", Condition.SILENT, since="01:00")
    night = [step(COLD, at="01:00"), step(silent), step(COLD, Event.RETURNED, "03:40")]
    queue = tuple(Untold("ana", "shed", t) for t in night)
    planned = told([], [silent], at="07:00", untold={("ana", "shed"): queue})
    (notice,) = planned.notices
    assert "Fig: look at fig-west by 10:00: battery, cable, place; silent since 01:00" == notice.title
    assert "Over: Fig too cold 00:00 to 03:40." in notice.lines
    assert (("ana", "shed"),) == planned.told
    assert "ana is up; it waited since 01:01." == planned.decisions[0].reason


def test_at_up_the_text_is_made_from_the_advice_of_that_moment():
    queue = (Untold("ana", "shed", step(COLD, at="01:00")),)
    shed = rules(mats=(replace(LONG_MAT, id="new-mat"),))
    planned = told([], [COLD], at="07:00", untold={("ana", "shed"): queue}, of=shed)
    assert "see that new-mat is on" in planned.notices[0].title


def test_what_was_held_and_is_suppressed_by_now_is_dropped_with_its_reason():
    hidden = replace(SILENT, cause=alarm(1, "", Condition.BROKER_LOST).key)
    queue = (Untold("ana", "shed", step(SILENT, at="01:00")),)
    planned = told([], [hidden], at="07:00", untold={("ana", "shed"): queue})
    assert () == planned.notices
    assert (("ana", "shed"),) == planned.told
    assert Verdict.WITHHELD is only_reason(planned)[0]


def test_a_queue_of_somebody_who_is_gone_is_let_go_of():
    queue = (Untold("eve", "shed", step(COLD)),)
    planned = told([], [COLD], untold={("eve", "shed"): queue})
    assert (("eve", "shed"),) == planned.told
    assert (Verdict.WITHHELD, "eve is no longer among the people.") == only_reason(planned)


def test_a_past_episode_is_told_once_with_its_span_and_its_furthest_value():
    late = episode("plum", Condition.HOT, "10:00", "11:30", Level.HARM, 31.6)
    planned = told([], [], past=[late])
    (notice,) = planned.notices
    assert "Plum: over, too hot (harm) 10:00 to 11:30" == notice.title
    assert "Highest 31.6 °C, limit 31 °C; the readings came late. Look how the worms are." == notice.lines[1]
    assert [(0, "past episode", Verdict.TOLD)] == [(d.alarm, d.event, d.verdict) for d in planned.decisions]


def test_raised_and_over_within_one_round_is_told_only_if_it_was_harm():
    for level, verdict in ((Level.HARM, Verdict.TOLD), (Level.COMFORT, Verdict.WITHHELD)):
        brief = alarm(12, "fig", Condition.COLD, level, since="12:00")
        planned = told([step(brief), step(brief, Event.RETURNED, "13:50")], [])
        assert {verdict} == {d.verdict for d in planned.decisions}


def test_an_alarm_that_ends_because_a_limit_changed_says_so():
    gone = step(COLD, Event.REMOVED, "14:00", cause="limits changed")
    planned = told([gone], [], before=standing(COLD), stood=[COLD], of=rules(people=(AWAKE,)))
    assert "Fig: over, too cold 12:00 to 14:00 (limits changed)" == planned.notices[0].title


def test_an_alarm_whose_advice_is_not_at_hand_is_still_told():
    planned = plan(
        rules=rules(), untold={}, transitions=[step(HARM)], past=[], alarms={12: HARM}, advice={}, before={},
        now=ms("14:00"), next_notice=1,
    )  # fmt: skip
    assert "Fig: look: cold since 12:00" == planned.notices[0].title


def test_two_spells_of_one_alarm_in_one_night_are_one_line_from_first_to_last():
    spells = [
        step(COLD, at="01:00"),
        step(COLD, Event.RETURNED, "02:00"),
        step(COLD, at="03:00"),
        step(COLD, Event.RETURNED, "04:00"),
    ]
    queue = tuple(Untold("ana", "shed", t) for t in spells)
    planned = told([], [], at="07:00", untold={("ana", "shed"): queue})
    assert "Fig: over, too cold 00:00 to 04:00" == planned.notices[0].title
    assert ms("00:00") == spells[0].at - HOUR


def test_by_day_what_is_over_waits_for_the_morning():
    over = step(COLD, Event.RETURNED, "14:00", evidence=evidence_of("fig", Condition.COLD, Level.COMFORT, 22.3))
    planned = told([over], [], before=standing(COLD), stood=[COLD])
    assert () == planned.notices
    said = "It can wait until tomorrow 07:00, when ana is told what has come together."
    assert (Verdict.HELD, said) == only_reason(planned)


def test_by_day_the_end_of_harm_is_told_at_once():
    over = step(HARM, Event.RETURNED, "14:00")
    planned = told([over], [], before=standing(HARM), stood=[HARM])
    assert (Verdict.TOLD, "ana is awake.") == only_reason(planned)


@pytest.mark.parametrize(("at", "until"), [("14:00", None), ("18:30", "21:00")])
def test_by_day_what_is_to_be_done_before_the_evening_is_told_at_once_and_the_rest_in_the_evening(at, until):
    cold = alarm(12, "fig", Condition.COLD, since="12:00" if until is None else "17:25")
    planned = told([step(cold)], [cold], at=at)
    (decision,) = planned.decisions
    assert (Verdict.TOLD if until is None else Verdict.HELD) is decision.verdict
    assert (None if until is None else ms(until)) == decision.until
