"""A probe stands in one zone up to a moment and in another from then on: neither past is rewritten by the other."""

from dataclasses import replace

import pytest

from monitor.judge import Book
from monitor.readings import DAY, HOUR, MINUTE, Measures, Reading
from monitor.rules import JudgeBy, Place, Point
from monitor.store.memory import MemoryStore
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.house import House
from parts.orchard import ms

MOVE = ms("12:00")
LENT = replace(orchard.probe("lent"), every=15 * MINUTE)


def alone(bed, **when):
    """The bin with one living zone, and in it the probe that is moved."""
    zone = next(z for z in bed.zones if z.role == "living")
    return replace(bed, zones=(replace(zone, probes=(replace(LENT, **when),)),))


FIG, PLUM = alone(orchard.FIG, until=MOVE), alone(orchard.PLUM, since=MOVE)
"""Fig wants 21 °C and more, the plum's worms are well at 15 °C."""


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def rules(*bins):
    places = {p: Place(p, p.title()) for p in {b.place for b in bins}}
    return replace(orchard.rules(bins=bins, mats=(), people=(orchard.ANA,)), places=places)


def house_at(clock, store=None, bins=(FIG, PLUM)):
    return House(rules=rules(*bins), store=store or MemoryStore(), at=ms(clock))


def climate(house):
    return {key for key, a in house.standing().items() if a.active and key[1] in ("cold", "hot")}


def test_what_it_says_after_the_move_is_judged_in_its_new_bin_only(store):
    house = house_at("10:00", store)
    house.say(lent=24.0)
    house.through(105, lent=24.0)
    house.through(240, lent=15.0)
    assert set() == climate(house)


def test_what_it_said_before_stays_the_old_bins(store):
    house = house_at("08:00", store)
    house.say(lent=15.0)
    house.through(180, lent=15.0)
    assert {("fig", "cold")} == climate(house)
    house.through(240, lent=15.0)
    # nothing that it says in the plum ends it, or is the plum's
    assert {("fig", "cold")} == climate(house)
    house.through(240, lent=24.0)
    assert {("fig", "cold")} == {k for k in climate(house) if k[1] == "cold"}


def test_a_cold_night_in_the_old_bin_is_no_hour_of_the_new_ones_delay(store):
    warm_plum = replace(
        PLUM, limits=orchard.FIG.limits, zones=(replace(PLUM.zones[0], limits=orchard.FIG.limits),)
    )
    house = house_at("11:15", store, bins=(FIG, warm_plum))
    house.say(lent=15.0)
    house.through(60, lent=15.0)  # 45 min in fig, a quarter of an hour in the plum
    assert set() == climate(house)
    house.through(60, lent=15.0)
    assert {("plum", "cold")} == climate(house)


def test_moved_within_a_bin_it_speaks_for_the_zone_it_stands_in(store):
    west, east = (z for z in orchard.FIG.zones if z.role == "living")
    zones = (
        replace(west, probes=(replace(LENT, until=MOVE),)),
        replace(east, probes=(replace(LENT, since=MOVE),)),
    )
    house = house_at("10:00", store, bins=(replace(orchard.FIG, judge=JudgeBy.EVERY_ZONE, zones=zones),))
    house.say(lent=24.0)
    house.through(105, lent=24.0)
    house.through(240, lent=15.0)
    assert {("fig.east", "cold")} == climate(house)


def test_settings_that_tell_of_the_move_afterwards_judge_each_past_where_it_was(store):
    """At first the move is not written, so what the probe says in the plum is taken for fig's."""
    house = house_at("08:00", store, bins=(alone(orchard.FIG),))
    house.say(lent=24.0)
    house.through(360, lent=24.0)
    house.through(120, lent=15.0)
    assert {("fig", "cold")} == climate(house)
    house.restart(rules(FIG, alone(orchard.PLUM, since=MOVE)))
    house.later(minutes=1).rounds.run()
    house.through(30, lent=15.0)
    assert ("plum", "cold") not in climate(house)
    phases = [k for (kind, k) in house.store.load().standing if kind == "condition"]
    assert [] == [k for k in phases if k.startswith("bin:plum/cold/comfort")]
    # of fig nothing newer is known than that it was warm, so nothing ends its alarm, and nothing feeds it
    assert house.rounds.stands.memory["lent"].last_at == house.at
    assert [] == [k for k in phases if k.startswith("bin:fig")]


def test_a_late_reading_is_an_episode_of_the_bin_it_was_in(store):
    house = house_at("08:00", store)
    house.say(lent=24.0)
    house.at = ms("16:00")
    house.say(lent=15.0)
    house.keep(*(Reading("lent", ms("08:30") + n * 15 * MINUTE, 10.0, house.at, own_time=True) for n in range(10)))
    house.later(minutes=1).rounds.run()
    assert {"fig"} == {p.key.subject.id for p in house.store.past_episodes()}


def test_a_restart_changes_nothing(store):
    house = house_at("10:00", store)
    house.say(lent=24.0)
    house.through(105, lent=24.0)
    house.through(60, lent=15.0)
    before = house.standing()
    house.restart()
    house.later(minutes=15).say(lent=15.0)
    assert set(before) == set(house.standing())


def test_silence_is_the_probes_and_nobody_waits_for_it_where_it_no_longer_stands():
    house = house_at("11:00")
    house.say(lent=24.0)
    house.through(45, lent=24.0)
    house.at = ms("15:00")
    house.rounds.run()
    there = {k for k, a in house.standing().items() if a.active}
    assert {("lent", "silent"), ("plum", "unwatched")} == there


@pytest.mark.parametrize("others", [(), (orchard.SLOE,)], ids=["alone", "beside another that stays"])
def test_a_probe_whose_time_is_over_everywhere_is_missed_by_nobody(others):
    house = house_at("11:00", bins=(FIG, alone(orchard.PLUM, since=MOVE, until=MOVE + HOUR), *others))
    house.say(lent=24.0)
    house.at = ms("12:30")
    house.rounds.run()
    assert {("lent", "silent")} <= {k for k, a in house.standing().items() if a.active}
    house.at = ms("13:01")
    house.rounds.run()
    assert set() == {k for k, a in house.standing().items() if a.active and not k[0].startswith("sloe")}


def test_a_days_median_holds_only_what_was_measured_here(store):
    """An uncalibrated zone would be wrong; a calibrated probe that was wet elsewhere must not make a dry bed damp."""
    points = (Point(2700, 12.0), Point(1450, 80.0))
    damp = replace(orchard.probe("damp", Measures.MOISTURE), calibration=points, every=15 * MINUTE)

    def with_damp(bed, **when):
        return replace(bed, zones=(replace(bed.zones[0], probes=(*bed.zones[0].probes, replace(damp, **when))),))

    fig, plum = with_damp(alone(orchard.FIG), until=MOVE), with_damp(orchard.PLUM, since=MOVE)
    house = house_at("00:00", store, bins=(fig, plum))
    house.say(lent=24.0, plum_near=15.0, damp=1500.0)
    house.through(12 * 60 - 15, lent=24.0, plum_near=15.0, damp=1500.0)
    assert set() == {k for k in house.standing() if k[1] == "dry"}
    house.through(11 * 60, lent=24.0, plum_near=15.0, damp=2500.0)
    assert set() == {k for k in house.standing() if k[1] == "dry"}  # twelve hours of the day are not known yet
    house.through(4 * 60, lent=24.0, plum_near=15.0, damp=2500.0)
    assert {("plum", "dry")} == {k for k in house.standing() if k[1] == "dry"}


def test_of_one_that_is_moved_the_last_place_is_the_probes_and_the_reading_knows_its_own():
    book = Book.of(rules(FIG, PLUM))
    assert (MOVE, "plum") == (book.probes["lent"].since, book.bin_of["lent"])
    homes = [book.home(Reading("lent", at, 20.0, at)) for at in (MOVE - DAY, MOVE - 1, MOVE, MOVE + DAY)]
    assert ["fig", "fig", "plum", "plum"] == homes
    gap = Book.of(rules(FIG, alone(orchard.PLUM, since=MOVE + HOUR)))
    assert gap.home(Reading("lent", MOVE + 1, 20.0, MOVE + 1)) is None


def test_another_time_of_the_move_is_another_watch():
    one, other = Book.of(rules(FIG, PLUM)), Book.of(rules(alone(orchard.FIG, until=MOVE + HOUR), PLUM))
    assert one.prints["fig"] != other.prints["fig"]
    assert one.prints["plum"] == other.prints["plum"]
