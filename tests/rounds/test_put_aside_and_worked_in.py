"""What is shelved, or stands in a bin that is worked in, is judged and recorded like anything else, and told to nobody."""

import json
from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event, State
from monitor.checks.system import System
from monitor.diary import Deed
from monitor.errors import StoreFull
from monitor.readings import HOUR, MINUTE, Quality, Reading
from monitor.rules import Place
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.asking import ask, reasons, shelve, told, work
from parts.house import House, warm
from parts.orchard import ms


def only_thermometers(bed):
    """Thermometers of living zones alone, so that nothing but what a test is about is the matter."""
    zones = (replace(z, probes=tuple(p for p in z.probes if p.measures == "temperature")) for z in bed.zones)
    return replace(bed, zones=tuple(z for z in zones if z.role == "living"))


FIG, PLUM, SLOE = map(only_thermometers, (orchard.FIG, orchard.PLUM, orchard.SLOE))
PLACES = {"shed": Place("shed", "Shed"), "porch": Place("porch", "Porch")}
WELL = {**warm(FIG), "plum_near": 18.0}
LIFTED = {**warm(FIG, 11.0), "plum_near": 18.0}


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def shed(store=None, at="10:00", bins=(FIG, PLUM)):
    rules = replace(orchard.rules(bins=bins, people=(orchard.ANA,)), places=PLACES)
    house = House(rules=rules, store=store or MemoryStore(), at=ms(at))
    house.say(**WELL)
    return house


def cool(house):
    """Fig below comfort until that is an alarm."""
    return house.through(75, **warm(FIG, 18.0), plum_near=18.0)


def of_fig(house):
    return house.standing()["fig", "cold"]


def last(house, alarm):
    return reasons(house, alarm)[-1]


# Shelves


def test_what_is_shelved_is_told_no_more_and_told_again_when_its_time_is_over(store):
    house = cool(shed(store))
    assert 1 == len(told(house))
    shelve(house, 1, hours=2, note="tonight")
    house.through(60, **WELL)
    house.through(45, **WELL)
    assert ("fig", "cold") not in house.standing()
    house.through(15, **WELL)
    assert 1 == len(told(house))
    assert (("returned", "not told", "Shelved by ana until 13:15."),) == tuple(
        r for r in reasons(house, 1) if r[0] == "returned"
    )
    cool(house)
    assert 2 == len(told(house))


def test_what_comes_back_under_the_shelf_is_not_told_until_the_shelf_is_over(store):
    house = cool(shed(store))
    shelve(house, 1, hours=5)
    house.through(75, **WELL)
    cool(house)
    assert 2 == of_fig(house).number
    assert [
        ("raised", "not told", "Shelved by ana until 16:15."),
        ("shelved", "not told", "Shelved by ana until 16:15."),
    ] == (reasons(house, 2))
    house.through(135, **warm(FIG, 18.0), plum_near=18.0)
    assert 1 == len(told(house))
    house.through(15, **warm(FIG, 18.0), plum_near=18.0)
    assert ms("16:15") == house.at
    assert ("unshelved", "told", "ana is awake.") == last(house, 2)
    assert 2 == len(told(house))


def test_the_rows_say_who_until_when_and_why(store):
    house = cool(shed(store))
    shelve(house, 1, hours=2, note="the mat comes tonight")
    house.through(120, **warm(FIG, 18.0), plum_near=18.0)
    rows = [t for t in house.store.transitions() if t.event in (Event.SHELVED, Event.UNSHELVED)]
    assert [
        ("ana", "Shelved by ana for 2 h.", "the mat comes tonight", ms("13:15")),
        (None, "The time of the shelf is over.", "", None),
    ] == [(t.who, t.cause, t.note, t.until) for t in rows]
    assert [ms("11:15"), ms("13:15")] == [t.at for t in rows]


def test_a_rise_of_level_ends_the_shelf_at_once_and_is_told(store):
    house = cool(shed(store))
    shelve(house, 1, hours=7 * 24)
    house.later(15).say(**LIFTED)
    assert (None, State.UNACKNOWLEDGED, "harm") == (of_fig(house).shelf, of_fig(house).state, of_fig(house).level)
    assert {"rose": "told", "unshelved": "told"} == {r[0]: r[1] for r in reasons(house, 1)[-2:]}
    assert "It is harm now, which ends the shelf." == house.store.transitions()[-1].cause
    assert [] == [k for k in house.store.load().standing if k[0] == "shelf"]


def test_so_does_coming_back_worse_than_what_was_put_aside(store):
    house = cool(shed(store))
    shelve(house, 1, hours=7 * 24)
    house.through(75, **WELL)
    house.later(15).say(**LIFTED)
    assert (2, None) == (of_fig(house).number, of_fig(house).shelf)
    assert ("raised", "told") == reasons(house, 2)[0][:2]


def test_a_shelf_put_over_harm_outlives_its_coming_back_at_the_same_level(store):
    house = shed(store)
    house.later(15).say(**LIFTED)
    ask(house, "seen", 1)
    shelve(house, 1, hours=8)
    house.through(75, **WELL)
    assert ("fig", "cold") not in house.standing()
    house.later(15).say(**LIFTED)
    assert of_fig(house).shelf is not None
    assert 1 == len(told(house))


def test_taken_off_by_a_person_it_is_told_as_it_stands(store):
    house = cool(shed(store))
    shelve(house, 1)
    ask(house.later(5), "unshelve", 1, who="ben", note="it matters after all")
    row = house.store.transitions()[-1]
    assert (Event.UNSHELVED, "ben", "Taken off the shelf by ben.", "it matters after all") == (
        row.event, row.who, row.cause, row.note,
    )  # fmt: skip
    assert ("unshelved", "told") == last(house, 1)[:2]


def test_by_the_number_of_what_was_put_there_or_of_what_came_since():
    for number in (1, 2):
        house = cool(shed())
        shelve(house, 1, hours=12)
        house.through(75, **WELL)
        cool(house)
        assert 2 == of_fig(house).number
        ask(house, "unshelve", number)
        assert of_fig(house).shelf is None


def test_put_aside_again_it_has_the_new_time_and_the_new_words():
    house = cool(shed())
    shelve(house, 1, hours=1)
    shelve(house.later(30), 1, hours=4, who="ben", note="longer")
    assert (ms("15:45"), "ben", "longer") == (
        of_fig(house).shelf.until,
        of_fig(house).shelf.who,
        of_fig(house).shelf.note,
    )
    house.through(60, **warm(FIG, 18.0), plum_near=18.0)
    assert of_fig(house).suppressed


def test_asked_for_in_the_round_in_which_its_time_is_over_it_goes_on_without_a_word():
    house = cool(shed())
    shelve(house, 1, hours=1)
    shelve(house.later(60), 1, hours=1)
    assert of_fig(house).suppressed
    assert [] == [s for s in house.steps() if s[2] == "unshelved"]


@pytest.mark.parametrize("what", ["shelve", "later"])
def test_a_wish_that_waited_until_its_time_was_over_changes_nothing(what):
    house = cool(shed())
    house.store.ask(house.at, "ana", what, 1, body=json.dumps({"for": HOUR}))
    house.later(90)
    before = house.standing()
    house.say(**warm(FIG, 18.0), plum_near=18.0)
    assert [] == house.store.asked()
    assert before == house.standing()


BODIES = [
    "{}",
    "[]",
    "null",
    "no json",
    '{"for": "tomorrow"}',
    '{"for": 1e99}',
    '{"for": true}',
    '{"for": -5}',
    '{"bin": "fig"}',
]


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("what", ["shelve", "later", "working", "unshelve", "dance"])
def test_a_request_that_says_nothing_changes_nothing_and_is_dealt_with(what, body):
    house = cool(shed())
    before = house.standing()
    house.store.ask(house.at, "ana", what, 77 if what == "unshelve" else 1, body=body)
    assert house.rounds.run().stored
    assert [] == house.store.asked()
    assert before == house.standing()


def test_two_orders_do_not_undo_each_other_because_one_of_their_alarms_is_shelved():
    house = cool(shed())
    before = house.store.advice("shed")[-1].orders
    shelve(house, 1)
    assert before == house.store.advice("shed")[-1].orders


def test_what_is_shelved_is_not_even_mentioned_in_a_notice_about_something_else():
    house = cool(shed())
    shelve(house, 1)
    house.through(15, **warm(FIG, 18.0), plum_near=29.5)
    house.through(60, **warm(FIG, 18.0), plum_near=29.5)
    (notice,) = {p.notice.number: p.notice for p in house.store.notices(100) if p.notice.number > 1}.values()
    assert "Plum" in notice.title
    assert [] == [line for line in notice.lines[1:] if line.startswith(("Fig", "Still"))]


def test_what_waits_for_the_morning_and_is_shelved_meanwhile_is_not_told():
    house = shed(at="22:00")
    cool(house)
    assert ("raised", "held") == last(house, 1)[:2]
    shelve(house, 1, hours=24)
    house.through(9 * 60, **warm(FIG, 18.0), plum_near=18.0)
    assert [] == told(house)
    assert ("raised", "not told", "Shelved by ana until 23:15.") == last(house, 1)


def test_harm_that_comes_off_its_shelf_at_night_wakes_as_harm_does():
    house = shed(at="22:00")
    house.later(15).say(**LIFTED)
    assert 1 == len(told(house))
    shelve(house, 1, hours=3)
    house.through(165, **LIFTED)
    assert 1 == len(told(house))
    house.through(15, **LIFTED)
    assert ("unshelved", "told") == last(house, 1)[:2]
    assert "sleeps, but harm is entered" in last(house, 1)[2]


# Restarts and a failing store


def test_after_a_restart_a_shelf_ends_when_it_would_have(store):
    house = cool(shed(store))
    shelve(house, 1, hours=2)
    house.through(60, **warm(FIG, 18.0), plum_near=18.0)
    before = house.standing()
    house.restart()
    assert before == house.standing()
    house.through(45, **warm(FIG, 18.0), plum_near=18.0)
    assert of_fig(house).suppressed
    house.through(15, **warm(FIG, 18.0), plum_near=18.0)
    assert ("unshelved", "told") == last(house, 1)[:2]


@pytest.mark.parametrize("hold", [shelve, work])
def test_one_that_was_over_while_nobody_ran_ends_in_the_first_round(store, hold):
    house = shed(store)
    if hold is work:
        work(house, hours=2)
    cool(house)
    if hold is shelve:
        shelve(house, 1, hours=2)
    assert of_fig(house).suppressed
    house.later(hours=5).restart()
    house.say(**warm(FIG, 18.0), plum_near=18.0)
    assert not of_fig(house).suppressed
    row = house.store.transitions()[-1]
    assert row.at < house.at == row.round_at  # it was over when its time was, and we say so now


def lived(restarts):
    """A day with everything in it, restarted after some of its rounds."""
    house, count = shed(), 0

    def go(**celsius):
        nonlocal count
        house.later(15).say(**celsius, plum_near=18.0)
        count += 1
        if count in restarts:
            house.restart()

    for hour in range(14):
        if hour == 2:
            shelve(house, 1, hours=3)
        if hour == 8:
            work(house, hours=4)
        if hour == 11:
            work(house, hours=0)
        for _ in range(4):
            go(**warm(FIG, (18.0, 11.0, 24.0)[hour // 3 % 3]))
    return house.store.transitions(limit=1000), house.store.notices(1000), house.store.diary(1000)


def test_restarts_change_nothing():
    events = [t.event for t in lived(())[0]]
    assert {Event.SHELVED, Event.UNSHELVED, Event.OUT_OF_SERVICE, Event.IN_SERVICE, Event.ROSE} <= set(events)
    for restarts in (range(0, 60, 7), range(60)):
        assert lived(()) == lived(restarts)


def test_what_could_not_be_stored_did_not_happen(monkeypatch):
    house = cool(shed())
    before = house.store.load()
    whole = house.store.commit
    monkeypatch.setattr(house.store, "commit", lambda _round: (_ for _ in ()).throw(StoreFull("full")))
    assert not shelve(house, 1).stored
    assert before == house.store.load()
    assert {} == house.rounds.stands.shelves
    monkeypatch.setattr(house.store, "commit", whole)
    house.later(1).say()
    assert of_fig(house).suppressed


# Work in a bin


def test_lifted_probes_are_judged_and_told_to_nobody(store):
    house = shed(store)
    work(house, note="turning the bed")
    house.later(15).say(**LIFTED)
    assert [] == told(house)
    alarm = of_fig(house)
    assert ("harm", "ana", ms("12:00")) == (alarm.level, alarm.work.who, alarm.work.until)
    assert ("raised", "not told", "Out of service: ana works in fig until 12:00.") == reasons(house, 1)[0]
    assert () == house.store.advice("shed")[-1].orders


@pytest.mark.parametrize("ends", ["by itself", "done"])
def test_what_still_stands_when_the_work_is_over_is_told(store, ends):
    house = shed(store)
    work(house, hours=2)
    house.through(105, **LIFTED)
    assert [] == told(house)
    if ends == "done":
        work(house.later(5), hours=0)
    else:
        house.through(15, **LIFTED)
    assert 1 == len(told(house))
    assert ("back in service", "told") == last(house, 1)[:2]
    assert [o.target for o in house.store.advice("shed")[-1].orders]


def test_what_was_over_before_the_work_was_is_never_told(store):
    house = shed(store)
    work(house, hours=4)
    house.through(30, **LIFTED)
    house.through(120, **WELL)
    ask(house, "seen", 1)
    house.through(120, **WELL)
    assert [] == told(house)
    assert {} == house.standing()


def test_harm_that_stood_before_the_work_stays_told(store):
    house = shed(store)
    house.later(15).say(**LIFTED)
    assert 1 == len(told(house))
    work(house)
    assert (None, False) == (of_fig(house).work, of_fig(house).suppressed)
    assert house.store.advice("shed")[-1].orders
    house.through(90, **WELL)
    assert "Fig: over, too cold" in told(house)[-1]


def test_other_bins_and_the_daemon_itself_are_told_as_ever(store):
    house = shed(store, bins=(FIG, PLUM, SLOE))
    house.say(sloe_top=24.0)
    work(house, hours=12)
    house.system = System(notices_failing={"phone": house.at})
    house.through(270, **LIFTED, sloe_top=9.0)
    assert {"Sloe", "Vermistat"} <= {line.split(":")[0] for line in told(house)}
    assert not [line for line in told(house) if "Fig" in line]


def test_its_silent_and_faulty_probes_are_not_told_either(store):
    house = shed(store)
    work(house, hours=4)
    house.later(15).keep(Reading("fig-west", house.at, -127.0, house.at, quality=Quality.DISCONNECTED))
    for _ in range(12):
        house.later(15).say(plum_near=18.0)
    found = {key: a for key, a in house.standing().items() if key[0].startswith("fig")}
    assert {"silent", "unwatched"} <= {condition for _, condition in found}
    assert all(a.suppressed for a in found.values())
    assert [] == told(house)


def test_an_episode_that_lies_within_the_work_is_kept_and_not_told():
    house = shed()
    work(house, hours=4)
    for minute in range(5, 200, 5):
        value = 18.0 if minute < 70 else 24.0
        at = house.at + minute * MINUTE
        house.keep(*(Reading(probe, at, value, at) for probe in ("fig-west", "fig-east")))
    house.later(200).say(plum_near=18.0)
    assert 1 == len(house.store.past_episodes())
    assert [] == told(house)


def test_the_diary_says_who_worked_and_how_it_ended():
    house = shed()
    work(house, hours=2, note="turning")
    work(house.later(30), hours=0, who="ben")
    work(house.later(30), hours=1)
    house.through(60)
    house.rounds.run()
    assert [
        ("ana", Deed.WORKING, "bin:fig", "for 2 h; turning", ms("10:00")),
        ("ben", Deed.WORKED, "bin:fig", "", ms("10:30")),
        ("ana", Deed.WORKING, "bin:fig", "for 1 h", ms("11:00")),
        ("ana", Deed.WORKED, "bin:fig", "the time that ana gave is over", ms("12:00")),
    ] == [(e.who, e.deed, e.subject, e.text, e.at) for e in house.store.diary()]


def test_done_where_nobody_works_and_work_in_a_bin_nobody_knows_change_nothing():
    house = shed()
    work(house, hours=0)
    work(house, "sorrel")
    assert ([], {}) == (house.store.diary(), house.rounds.stands.works)


def test_a_bin_that_leaves_the_settings_takes_its_work_and_its_shelves_along():
    house = cool(shed())
    shelve(house, 1)
    work(house)
    house.restart(orchard.rules(bins=(PLUM,), people=(orchard.ANA,)))
    house.later(1).say(plum_near=18.0)
    assert [] == [key for key in house.store.load().standing if key[0] in ("shelf", "work")]
    assert ("fig", "cold", "removed") in house.steps()


def test_a_clock_that_is_moved_by_hand_knows_when_they_end():
    house = cool(shed())
    shelve(house, 1, hours=2)
    work(house, "plum", hours=1)
    assert ms("12:15") == house.rounds.next_deadline(ms("12:00"), ms("13:00"))
    assert ms("13:15") == house.rounds.next_deadline(ms("13:10"), ms("13:40"))


def said_at(house, at, hours, bed="fig"):
    """A message with a time of its own, taken up now."""
    body = json.dumps({"bin": bed, "for": round(hours * HOUR), "dated": True})
    house.store.ask(at, "a message", "working", body=body)
    return house.rounds.run()


@pytest.mark.parametrize("restarted", [False, True])
def test_a_message_that_the_broker_kept_changes_nothing_that_was_said_since(restarted, store):
    house = shed(store)
    said_at(house.later(5), ms("10:00"), 6)
    assert ms("16:00") == house.rounds.stands.works["fig"].until
    work(house.later(60), hours=0)
    if restarted:
        house.restart()
    said_at(house.later(5), ms("10:00"), 6)
    assert {} == house.rounds.stands.works
    said_at(house, house.at, 6)
    assert "fig" in house.rounds.stands.works
    said_at(house.later(5), ms("10:30"), 0)  # an old `done` does not end a new work
    assert "fig" in house.rounds.stands.works


def test_a_dated_message_whose_time_is_over_begins_nothing():
    house = shed()
    said_at(house, house.at - 3 * HOUR, 2)
    assert ({}, []) == (house.rounds.stands.works, house.store.diary())


# A probe that lies in the bed again


def lifted_and_back(house, *, minutes=15):
    """Work, a probe in the cold air, and back in the bed."""
    work(house, hours=2)
    house.through(minutes, **LIFTED)
    house.through(15, **WELL)
    return house


def test_what_a_lifted_probe_said_is_not_told_because_the_keeper_says_done_at_once(store):
    house = lifted_and_back(shed(store))
    work(house.later(1), hours=0)
    assert of_fig(house).suppressed
    house.through(60, **WELL)
    assert ("fig", "cold") not in house.standing()
    assert [] == told(house)
    assert ("returned", "not told", "Out of service: it was there while ana worked in fig.") == last(house, 1)


def test_harm_that_was_there_only_under_somebodys_hands_waits_for_no_eyes(store):
    house = lifted_and_back(shed(store))
    house.through(60, **WELL)
    assert {} == house.standing()
    assert (Event.RETURNED, State.NORMAL) == (
        house.store.transitions()[-1].event,
        house.store.transitions()[-1].after,
    )


def test_it_is_told_as_soon_as_it_is_beyond_its_limit_again(store):
    house = lifted_and_back(shed(store))
    work(house.later(1), hours=0)
    house.later(14).say(**LIFTED)
    assert ("back in service", "told") == last(house, 1)[:2]
    assert 1 == len(told(house))


def test_harm_on_its_way_back_becomes_the_comfort_that_is_broken_and_is_told_as_that(store):
    """The bed itself is below comfort; only the probe was in harm."""
    house = shed(store)
    work(house, hours=4)
    house.through(15, **LIFTED)
    house.through(15, **warm(FIG, 18.0), plum_near=18.0)
    work(house, hours=0)
    assert [] == told(house)
    house.through(75, **warm(FIG, 18.0), plum_near=18.0)
    assert ("comfort", False) == (of_fig(house).level, of_fig(house).suppressed)
    assert 1 == len(told(house))


def test_one_of_which_nothing_more_is_heard_is_told_in_the_end(store):
    house = lifted_and_back(shed(store))
    work(house.later(1), hours=0)
    for _ in range(8):
        house.later(15).say(plum_near=18.0)
    assert ("back in service", "told") in [r[:2] for r in reasons(house, 1)]


@pytest.mark.parametrize("restarted", [False, True])
def test_a_restart_in_between_changes_nothing_of_it(restarted, store):
    house = lifted_and_back(shed(store))
    work(house.later(1), hours=0)
    if restarted:
        house.restart()
    house.through(15, **WELL)
    assert of_fig(house).suppressed
    house.through(45, **WELL)
    assert ([], {}) == (told(house), house.standing())
