"""A squeezed handful, told to the daemon, is judged where no calibrated probe speaks, with the uncertainty of a hand.

The bands are those of `science.squeeze` (its sources and marks); the limits here are invented.
"""

import json
from dataclasses import replace

import pytest

from monitor.diary import Deed
from monitor.names import Names
from monitor.readings import DAY, HOUR, MINUTE, Measures
from monitor.rules import Bedding, Bound, Harm, Level, Limits, Place, Point
from monitor.shifting import STANDING, Move
from monitor.store.memory import MemoryStore
from monitor.store.renaming import standing_key
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.asking import ask, told
from parts.house import House, warm
from parts.orchard import ms


def by(value):
    return Bound(value, "a book", "proposal")


WATER = Limits(low=by(60), high=by(85), harm=(Harm(below=True, bound=by(50), lasting=HOUR),), deadband=2.0)


def only_thermometers(bed, *, limits=WATER):
    climate = {**bed.limits, Measures.MOISTURE: limits}
    zones = (
        replace(z, probes=tuple(p for p in z.probes if p.measures is Measures.TEMPERATURE), limits=climate)
        for z in bed.zones
        if z.role == "living"
    )
    return replace(bed, zones=tuple(zones), limits=climate, made_of=Bedding.PAPER)


FIG = only_thermometers(orchard.FIG)
WELL = warm(FIG)


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def fig(store=None, bed=FIG, at="10:00"):
    rules = replace(
        orchard.rules(bins=(bed,), mats=(), people=(orchard.ANA,)), places={"shed": Place("shed", "Shed")}
    )
    house = House(rules=rules, store=store or MemoryStore(), at=ms(at))
    house.say(**WELL)
    return house


def squeeze(house, feel, of="bin:fig", ago=0, note=""):
    return ask(house, "squeeze", note=note, of=of, feel=feel, ago=ago)


def there(house):
    """What is the matter now. (Harm that is over still waits for somebody's eyes.)"""
    return {key for key, alarm in house.standing().items() if alarm.active}


def later(house, hours):
    house.later(hours=hours).say(**WELL)
    return house


def test_a_handful_that_makes_no_ball_is_too_dry_at_once():
    house = fig()
    squeeze(house, "crumbles")
    alarm = house.standing()["fig", "dry"]
    # 0 to 50 % lies wholly at or below the harm limit of 50 %
    assert (Level.HARM, 50, -1) == (alarm.level, alarm.evidence.value, alarm.evidence.side)
    assert "makes no ball, in paper bedding 0 to 50 % (squeeze test" in alarm.evidence.arithmetic
    assert 1 == len(told(house))


def test_a_band_that_reaches_over_the_limit_is_no_alarm():
    house = fig(bed=replace(FIG, made_of=Bedding.MIXED))
    squeeze(house, "breaks")  # 45 to 65 %, and the limit is 60
    assert set() == there(house)


def test_the_same_feel_in_known_bedding_is():
    house = fig()
    squeeze(house, "breaks")  # 50 to 60 %
    assert Level.COMFORT is house.standing()["fig", "dry"].level


def test_what_runs_by_itself_is_too_wet():
    house = fig()
    squeeze(house, "runs")
    assert {("fig", "wet")} == there(house)
    assert 1 == house.standing()["fig", "wet"].evidence.side


def test_the_next_squeeze_ends_it_when_its_middle_is_inside(store):
    house = fig(store)
    squeeze(house, "breaks")
    assert {("fig", "dry")} == there(house)
    squeeze(later(house, 12), "holds")  # 60 to 70 %
    assert set() == there(house)


def test_an_alarm_outlives_what_its_squeeze_can_say_and_a_restart(store):
    house = fig(store)
    squeeze(house, "breaks")
    house.restart()
    for _ in range(8):
        later(house, 12)
    assert {("fig", "dry")} == there(house)


def test_an_old_squeeze_raises_nothing():
    house = fig()
    squeeze(house, "crumbles", ago=4 * DAY)
    assert set() == there(house)


def test_of_the_living_zones_the_wettest_decides_against_dry():
    house = fig()
    squeeze(house, "crumbles", of="zone:fig.west")
    assert {("fig", "dry")} == there(house)
    squeeze(later(house, 1), "drops", of="zone:fig.east")
    assert set() == there(house)


def test_a_zones_own_squeeze_and_one_of_the_whole_bin_the_newer_speaks():
    house = fig()
    squeeze(house, "crumbles", of="zone:fig.west")
    squeeze(later(house, 1), "drops")
    assert set() == there(house)


def damp_fig():
    probe = replace(
        orchard.probe("fig-damp", Measures.MOISTURE), calibration=(Point(2700, 12.0), Point(1450, 80.0))
    )
    west = FIG.zones[0]
    return replace(FIG, zones=(replace(west, probes=(*west.probes, probe)), *FIG.zones[1:]))


def test_where_a_calibrated_probe_speaks_the_hand_is_only_written_down():
    house = fig(bed=damp_fig())
    house.say(**WELL, fig_damp=1600.0)
    squeeze(house, "crumbles")
    assert set() == there(house)
    assert [Deed.SQUEEZED] == [e.deed for e in house.store.diary()]


def test_when_the_probe_is_lifted_out_the_hand_counts():
    house = fig(bed=damp_fig())
    house.say(**WELL, fig_damp=9000.0)
    squeeze(house, "crumbles")
    assert ("fig", "dry") in there(house)


def test_the_probe_ends_what_the_hand_raised_as_soon_as_it_speaks():
    house = fig(bed=damp_fig())
    squeeze(house, "crumbles")
    assert ("fig", "dry") in there(house)
    for _ in range(60):
        house.later(15).say(**WELL, fig_damp=1600.0)
    assert ("fig", "dry") not in there(house)


def test_it_is_written_into_the_diary_with_the_hour_it_was_done():
    house = fig()
    squeeze(house, "drops", ago=90 * MINUTE, note="by the wall", of="zone:fig.west")
    entry = house.store.diary()[-1]
    assert (ms("08:30"), "ana", Deed.SQUEEZED, "zone:fig.west", "drops; by the wall") == (
        entry.at, entry.who, entry.deed, entry.subject, entry.text,
    )  # fmt: skip


def test_one_told_late_does_not_hide_a_newer_one():
    house = fig()
    squeeze(house, "drops")
    squeeze(house, "crumbles", ago=5 * HOUR)
    assert set() == there(house)
    assert 2 == len(house.store.diary())


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"of": "bin:fig"},
        {"of": "bin:fig", "feel": "like soup"},
        {"of": ["fig"], "feel": "runs"},
        {"of": "bin:fig", "feel": ["runs"]},
        {"of": "bin:fig", "feel": "runs", "ago": -1},
        {"of": "bin:fig", "feel": "runs", "ago": "1 h"},
        {"of": "bin:fig", "feel": "runs", "ago": 2**62},
    ],
    ids=json.dumps,
)
def test_what_makes_no_sense_changes_nothing(body):
    house = fig()
    before = house.store.load().standing
    ask(house, "squeeze", **body)
    assert before == house.store.load().standing
    assert [] == house.store.diary()
    assert [] == house.store.asked()


def test_a_squeeze_of_a_bin_that_is_gone_is_forgotten(store):
    house = fig(store)
    squeeze(house, "crumbles", of="zone:fig.west")
    assert [("squeeze", "zone:fig.west")] == [k for k in house.store.load().standing if k[0] == "squeeze"]
    without = replace(FIG, zones=FIG.zones[1:])
    house.restart(replace(house.rules, bins={"fig": without}))
    later(house, 1)
    assert [] == [k for k in house.store.load().standing if k[0] == "squeeze"]


def test_it_goes_along_when_the_clock_was_off_and_when_the_bin_gets_another_id():
    move = Move(by=3 * HOUR, begin=ms("09:00"), now=ms("16:00"))
    assert json.dumps([ms("13:00"), "drops", "ana"]) == STANDING["squeeze"](
        json.dumps([ms("10:00"), "drops", "ana"]), move, 0
    )
    assert "zone:pear.west" == standing_key("squeeze", "zone:fig.west", Names(bins={"fig": "pear"}))


def test_without_limits_of_moisture_nothing_can_be_too_dry():
    dry = replace(FIG, limits={Measures.TEMPERATURE: FIG.limits[Measures.TEMPERATURE]})
    house = fig(bed=dry)
    squeeze(house, "crumbles")
    assert set() == there(house)


# ── told wrongly ──────────────────────────────────────────────────────────────────────────────────────────────


def of_the_moment(house, number):
    """What a correction carries of the handful that it corrects."""
    (entry,) = [e for e in house.store.diary(100) if e.number == number]
    return [entry.subject, entry.at]


def test_a_handful_that_was_never_squeezed_speaks_no_longer(store):
    house = fig(store)
    squeeze(house, "crumbles")
    number = next(e.number for e in house.store.diary(100))
    assert there(later(house, 3))
    ask(house, "diary", deed="note", subject="bin:fig", corrects=number, was=of_the_moment(house, number))
    assert set() == there(later(house, 3))


def test_a_handful_told_anew_speaks_instead_even_when_it_was_earlier(store):
    house = fig(store)
    squeeze(house, "crumbles")
    number = next(e.number for e in house.store.diary(100))
    ask(house, "squeeze", of="bin:fig", feel="holds", ago=HOUR, corrects=number, was=of_the_moment(house, number))
    assert set() == there(later(house, 3))
    assert [number] == [e.corrects for e in house.store.diary(100) if e.number != number]


def test_correcting_an_older_handful_leaves_the_newer_one_speaking(store):
    house = fig(store)
    squeeze(house, "holds", ago=HOUR)
    number = next(e.number for e in house.store.diary(100))
    was = of_the_moment(house, number)
    squeeze(house, "crumbles")
    ask(house, "diary", deed="note", subject="bin:fig", corrects=number, was=was)
    assert there(later(house, 3))
