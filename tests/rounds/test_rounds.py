"""What a round does with what has arrived: one transaction, or nothing at all."""

from dataclasses import replace

import pytest

from monitor import judge as judging
from monitor import rounds as rounds_of_time
from monitor.checks.system import System
from monitor.errors import StoreFull
from monitor.notify.notices import Posted
from monitor.readings import HOUR, MINUTE, Reading
from monitor.rules import Level, Place
from parts import orchard
from parts.house import Flushed, House, warm, with_limit


@pytest.fixture
def house():
    return House(rules=orchard.rules(bins=(orchard.FIG,), people=(orchard.ANA,)))


def cold(celsius=11.5):
    return warm(celsius=celsius)


def test_a_reading_beyond_an_at_once_limit_is_told_in_the_same_round(house):
    house.say(**warm())
    report = house.later(1).say(**cold())
    assert (3, 1) == (report.readings, report.notices)
    posts = house.store.due(house.at)
    assert {"phone", "mail"} == {p.channel for p in posts}
    assert all(p.state is Posted.WAITING for p in posts)
    assert "Fig" in posts[0].notice.title
    assert posts[0].notice.lines[1].count("12 °C") == 1
    assert ("fig", "cold", "raised") in house.steps()
    assert house.store.advice("shed")[-1].orders


def test_a_quiet_round_stores_its_row_and_nothing_else(house):
    house.say(**warm())
    before = house.store.load()
    report = house.later(1).say()
    assert (0, 0, 0) == (report.readings, report.transitions, report.notices)
    after = house.store.load()
    assert before.last_round.number + 1 == after.last_round.number
    assert (before.standing, before.alarms, before.untold) == (after.standing, after.alarms, after.untold)


def test_each_reading_is_judged_once(house):
    assert 3 == house.say(**warm()).readings
    assert 0 == house.later(1).say().readings


def test_a_restart_changes_nothing():
    def lived(restarts):
        house = House(rules=orchard.rules())
        for minute in range(0, 12 * 60, 20):
            swing = 26 - abs(6 * 60 - minute) / 60 * 0.5 if minute % 240 < 160 else 13.5
            house.later(20).say(fig_west=swing, fig_east=swing - 1, fig_mat=swing + 3, plum_near=9.0 + minute % 7)
            if minute in restarts:
                house.restart()
        return house.store.transitions(limit=10_000), house.store.notices(10_000)

    assert len(lived(())[0]) > 8
    for restarts in ((0,), (200,), (160, 180, 200, 220), range(0, 720, 20)):
        assert lived(()) == lived(restarts)


def test_when_the_store_cannot_write_nothing_advances_and_harm_goes_straight_out_once(house, monkeypatch):
    house.say(**warm())
    house.keep(*(Reading(n.replace("_", "-"), house.at + MINUTE, v, house.at) for n, v in cold().items()))
    written = house.store.commit
    monkeypatch.setattr(house.store, "commit", lambda _round: (_ for _ in ()).throw(StoreFull("the disk is full")))
    before = house.store.load()
    assert not house.later(1).say().stored
    assert not house.later(1).say().stored
    assert before == house.store.load()
    told = [p for p in house.straight if "Fig" in p.notice.title]
    assert {"phone", "mail"} == {p.channel for p in told}
    assert 2 == len(told)
    assert any("disk is full" in "\n".join(p.notice.lines + p.notice.more) for p in house.straight)
    monkeypatch.setattr(house.store, "commit", written)
    assert house.later(1).say().stored
    assert 1 == house.steps().count(("fig", "cold", "raised"))
    assert ("", "store failing", "raised") in house.steps()
    house.later(1).say()
    assert ("", "store failing", "returned") in house.steps()


def test_readings_that_could_not_be_made_durable_are_judged_unrecorded(house):
    house.say(**warm())
    house.later(1)
    in_hand = tuple(Reading(n.replace("_", "-"), house.at, v, house.at) for n, v in cold().items())
    house.flushed = Flushed(ok=False, in_hand=in_hand, error="the disk is full")
    report = house.rounds.run()
    assert (3, False) == (report.readings, report.stored)
    assert any("Fig" in p.notice.title for p in house.straight)
    assert [] == house.steps("cold")
    house.flushed = Flushed()
    house.keep(*in_hand)
    house.later(1).say()
    assert [("fig", "cold", "raised")] == house.steps("cold")[:1]


def test_being_blind_is_told_once_more_and_over_with_the_next_round_that_is_stored(house):
    house.say(**warm())
    for blind in (False, False, True, True):
        house.flushed = Flushed(ok=False, error="the disk is full", blind=blind)
        assert not house.later(1).say().stored
    told = ["no bin is watched" in p.notice.lines[0] for p in house.straight if p.channel == "mail"]
    assert [False, True] == told
    house.flushed = Flushed()
    assert house.later(1).say().stored
    assert Level.COMFORT is house.standing()["", "store failing"].level
    house.later(1).say()
    assert [("", "store failing", "raised"), ("", "store failing", "returned")] == house.steps("store failing")


def test_a_store_that_cannot_be_asked_for_the_past_stops_no_round(house, monkeypatch):
    """A late reading makes the round ask for its history; a store that fails there fails as anywhere else."""
    house.say(**warm())
    house.later(1).keep(Reading("fig-west", house.at - 5 * HOUR, 11.0, house.at, own_time=True))
    monkeypatch.setattr(house.store, "window", lambda *_: (_ for _ in ()).throw(StoreFull("the disk is full")))
    before = house.store.load()
    in_hand = tuple(Reading(n.replace("_", "-"), house.at, v, house.at) for n, v in cold().items())
    house.flushed = Flushed(ok=False, in_hand=in_hand, error="the disk is full")
    assert not house.rounds.run().stored
    assert before == house.store.load()
    assert any("Fig" in p.notice.title for p in house.straight)


def test_one_bin_that_cannot_be_judged_stops_no_other_and_is_an_alarm_itself(monkeypatch):
    house = House(rules=orchard.rules(people=(orchard.ANA,)))
    house.say(**warm(), plum_near=15.0)
    whole = judging.look

    def breaks(watched, **more):
        if watched.bed.id == "fig":
            raise ZeroDivisionError("a formula of ours")
        return whole(watched, **more)

    monkeypatch.setattr(judging, "look", breaks)
    report = house.later(1).say(**cold(), plum_near=0.5)
    assert {"fig": "ZeroDivisionError: a formula of ours"} == report.failed
    assert ("fig", "step failed", "raised") in house.steps()
    house.later(31).say(plum_near=0.5)
    assert ("plum", "cold", "raised") in house.steps()
    assert [] == [s for s in house.steps("cold") if s[0] == "fig"]


def test_a_bin_judged_again_after_its_step_failed_has_missed_nothing(monkeypatch):
    house = House(rules=orchard.rules(bins=(orchard.FIG,)))
    house.say(**warm())
    whole = judging.look
    monkeypatch.setattr(judging, "look", lambda *a, **k: 1 / 0)
    began = house.later(10).at
    house.say(**warm(celsius=14.0))
    house.through(225, **warm(celsius=14.0))
    monkeypatch.setattr(judging, "look", whole)
    house.through(15, **warm(celsius=14.0))
    raised = house.standing()["fig", "cold"]
    assert (began, "harm") == (raised.since, raised.level)
    assert ("fig", "step failed", "returned") in house.steps()


def test_a_limit_that_is_changed_is_judged_at_once_from_the_stored_readings(house):
    house.say(**warm())
    house.later(5).say(**warm(celsius=16.0))
    assert ("fig", "cold") not in house.standing()
    raised = with_limit(orchard.FIG, 17.0)
    house.restart(orchard.rules(bins=(replace(raised, zones=raised.zones),)))
    house.later(1).say(**warm(celsius=16.0))
    assert "harm" == house.standing()["fig", "cold"].level
    assert orchard.ms("10:05") == house.standing()["fig", "cold"].since


def test_a_delay_that_was_running_when_the_limit_changed_is_not_counted_anew(house):
    house.say(**warm(celsius=20.0))
    heat = orchard.FIG.limits["temperature"]
    higher = {**orchard.FIG.limits, "temperature": replace(heat, low=replace(heat.low, value=20.5))}
    house.through(45, **warm(celsius=20.0))
    house.restart(orchard.rules(bins=(replace(orchard.FIG, limits=higher),)))
    house.later(15).say(**warm(celsius=20.0))
    assert orchard.ms("10:00") == house.standing()["fig", "cold"].since


def test_the_alarm_of_a_limit_that_is_gone_ends_with_its_cause(house):
    house.say(**cold())
    assert ("fig", "cold") in house.standing()
    heat = replace(orchard.FIG.limits["temperature"], low=None, harm=())
    house.restart(orchard.rules(bins=(replace(orchard.FIG, limits={"temperature": heat}),)))
    house.later(1).say(**cold())
    last = house.store.transitions()[-1]
    assert ("removed", "limits changed") == (last.event, last.cause)
    assert ("fig", "cold") not in house.standing()


def test_the_alarms_of_a_bin_that_is_gone_end_and_its_history_stays(house):
    house.say(**cold())
    house.restart(orchard.rules(bins=(orchard.PLUM,)))
    house.later(1).say(plum_near=15.0)
    gone = [t for t in house.store.transitions() if t.event == "removed"]
    assert {"settings changed"} == {t.cause for t in gone}
    assert ("fig", "cold") not in house.standing()
    assert 3 == sum(len(house.store.window(p, 0, 2**60)) for p in ("fig-west", "fig-mat", "fig-east"))


def test_late_readings_become_a_past_episode_told_once_and_touch_no_alarm(house):
    night = house.at - 5 * HOUR
    house.say(**warm())
    tardy = [
        Reading(probe, night + step * 10 * MINUTE, 11.0 if step < 12 else 24.0, house.at, own_time=True)
        for step in range(20)
        for probe in ("fig-west", "fig-east", "fig-mat")
    ]
    house.later(1).keep(*tardy)
    house.say(**warm())
    assert [] == house.steps("cold")
    past = house.store.past_episodes()
    assert {("fig", night)} == {(p.key.subject.id, p.began) for p in past if p.key.subject.kind == "bin"}
    notices = {p.notice.number for p in house.store.notices()}
    assert 1 == len(notices)
    house.later(1).keep(Reading("fig-west", night + 5 * MINUTE, 11.0, house.at, own_time=True))
    house.say(**warm())
    assert past == house.store.past_episodes()
    assert notices == {p.notice.number for p in house.store.notices()}


def test_seen_acknowledges_before_the_findings_of_the_round(house):
    house.say(**warm(celsius=20.0))
    house.through(60, **warm(celsius=20.0))
    number = house.standing()["fig", "cold"].number
    house.store.ask(house.at, "ana", "seen", number)
    house.later(1).say(**warm(celsius=11.0))
    events = [e for s, c, e in house.steps("cold") if s == "fig"]
    assert ["raised", "acknowledged", "rose"] == events
    assert "unacknowledged" == house.standing()["fig", "cold"].state
    assert [] == house.store.asked()


def test_done_acknowledges_and_writes_the_diary(house):
    house.say(**cold())
    number = house.standing()["fig", "cold"].number
    house.store.ask(house.at, "ana", "done", number, "mat is on")
    house.later(1).say(**cold())
    assert "acknowledged" == house.standing()["fig", "cold"].state
    entry, meant = house.store.diary()
    assert ("ana", "done", "bin:fig", "mat is on", number) == (
        entry.who, entry.deed, entry.subject, entry.text, entry.alarm
    )  # fmt: skip
    assert ("mat on", "mat:long-mat", entry.number) == (meant.deed, meant.subject, meant.number)


def test_a_request_for_an_alarm_that_is_gone_changes_nothing_and_is_dealt_with(house):
    house.say(**warm())
    house.store.ask(house.at, "ana", "seen", 99)
    house.later(1).say(**warm())
    assert [] == house.store.asked()
    assert [] == house.steps()


def test_forty_probes_behind_a_lost_broker_are_one_alarm():
    bins = [
        replace(
            orchard.SLOE,
            id=f"b{n}",
            zones=(replace(orchard.SLOE.zones[0], probes=(orchard.probe(f"b{n}-top"),)),),
        )
        for n in range(40)
    ]
    house = House(rules=replace(orchard.rules(bins=bins, mats=()), places={"porch": Place("porch", "Porch")}))
    house.system = System(link_since=house.at)
    house.say(**{f"b{n}_top": 24.0 for n in range(40)})
    house.system = System(link_up=False, link_since=house.at, link_detail="connection refused")
    for _ in range(10):
        house.later(15).say()
    told = [a for a in house.standing().values() if not a.suppressed]
    assert [("", "broker lost")] == [(a.key.subject.id, a.key.condition) for a in told]
    assert 1 == len({p.notice.number for p in house.store.notices()})


def test_silence_is_told_at_its_deadline_and_not_before(house):
    house.say(**warm())
    assert orchard.ms("10:45") == house.rounds.next_deadline(house.at, house.at + 2 * HOUR)
    house.later(44).say()
    assert [] == house.steps("silent")
    house.later(1).say()
    assert ("fig-west", "silent", "raised") in house.steps("silent")


def test_what_was_held_for_the_morning_is_told_when_somebody_gets_up():
    house = House(rules=orchard.rules(bins=(orchard.FIG,), people=(orchard.ANA,)), at=orchard.ms("22:00"))
    house.say(**warm(celsius=20.0))
    house.through(60, **warm(celsius=20.0))
    assert ("fig", "cold") in house.standing()
    assert [] == house.store.notices()
    up = orchard.ms("2026-11-26T07:00")
    assert up == house.rounds.next_deadline(orchard.ms("2026-11-26T06:59"), up + HOUR)
    while house.at < up:
        house.later(15).say(**warm(celsius=20.0))
        told = house.store.notices()
        assert (house.at >= up) == bool(told)
    assert "Fig" in house.store.notices()[0].notice.title


def test_a_round_that_was_missed_is_itself_told(house):
    house.say(**warm())
    house.rounds.missed(180.0)
    house.later(4).say(**warm())
    assert ("", "round missed", "raised") in house.steps()
    house.later(1).say(**warm())
    assert ("", "round missed", "returned") in house.steps()


def test_a_request_that_nobody_knows_is_dealt_with_and_changes_nothing(house):
    house.say(**cold())
    before = house.standing()
    house.store.ask(house.at, "ana", "sing", body='{"song": 1}')
    house.later(1).say(**cold())
    assert [] == house.store.asked() == house.store.diary()
    assert before == house.standing()


@pytest.mark.parametrize(("at_once", "limit"), [(50, 50), (1, 4 * len(orchard.rules().probes()))])
def test_a_backlog_is_worked_off_in_rounds_of_bounded_size_one_after_the_other(monkeypatch, at_once, limit):
    # bounded for a small board, and never less than what all probes say in a round
    monkeypatch.setattr(rounds_of_time, "AT_ONCE", at_once)
    house = House()
    house.keep(*(Reading("fig-west", house.at - 10**6 + n, 24.0, house.at) for n in range(2 * limit + 1)))
    asked = []
    after = house.store.after
    monkeypatch.setattr(house.store, "after", lambda upto, most: asked.append((upto, most)) or after(upto, most))
    last = house.rounds.run()
    assert [(0, limit), (limit, limit), (2 * limit, limit)] == asked
    assert (3, 1) == (last.number, last.readings)
