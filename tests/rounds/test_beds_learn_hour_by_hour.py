"""Rounds let every bed learn by whole hours: what is kept of it, after a kill as without one, and what makes it learn anew."""

import json
import math
from collections import Counter
from dataclasses import replace

import pytest

from monitor.bed import kept, living
from monitor.bed.forecast import Learned, forecast, took
from monitor.bed.hours import duty_by_diary, hour_of
from monitor.bed.mats import Watch, watch
from monitor.bed.plan import as_now
from monitor.bed.room import Room, heard
from monitor.bed.zone import begun
from monitor.errors import StoreFull
from monitor.hourly import beds_in, documents_of, rooms_in
from monitor.names import Names
from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.science import series
from monitor.shifting import STANDING, Move
from monitor.store.memory import MemoryStore
from monitor.store.promises import APART, Batch
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.asking import ask
from parts.house import House
from parts.kept import taking
from parts.nights import only_thermometers

FIG, PLUM = map(only_thermometers, (orchard.FIG, orchard.PLUM))
QUARTER = 15 * MINUTE
BEGINS = orchard.ms("2026-11-01T00:00")


def air(at):
    hours = at / HOUR
    return 8.0 + 4 * math.sin(hours / 24 * 2 * math.pi) + 1.5 * math.sin(hours / 61)


class Shed(House):
    """A shed whose two beds follow its air, each in its own way; every quarter of an hour a reading and a round."""

    def __post_init__(self):
        super().__post_init__()
        self.warmth = {"fig-west": (0.04, 19.0), "plum-near": (0.09, 14.0)}

    def live(self, hours, *, rounds=True):
        for _ in range(round(hours * 4)):
            self.at += QUARTER
            step = {}
            for probe, (loses, now) in self.warmth.items():
                step[probe] = (loses, now + 0.25 * (loses * (air(self.at) - now) + 0.3))
            self.warmth = step
            values = {"shed-air": air(self.at), **{p: now for p, (_, now) in step.items()}}
            self.keep(*(Reading(p, self.at - 1000, round(v, 2), self.at) for p, v in values.items()))
            if rounds:
                self.rounds.run()
        return self

    def run(self, minutes=15):
        """A round without readings."""
        self.later(minutes)
        self.rounds.run()
        return self


def shed(store=None, **more):
    rules = orchard.rules(bins=(FIG, PLUM), **more)
    return Shed(rules=rules, store=store or MemoryStore(), at=BEGINS)


def learned(house):
    return {zone: bed for zone, (bed, _) in beds_in(documents_of(house.store)).items()}


def by_hand(house, zone, probe, *, heated, duty=lambda at: None):
    """The same, hour by hour, out of the stored readings alone."""
    mass, loss, watts = heated
    first = BEGINS // HOUR * HOUR
    read = [(r.at, r.value) for r in house.store.window(probe, 0, 2**60)]
    outer = [(r.at, r.value) for r in house.store.window("shed-air", 0, 2**60)]
    bed = Learned(begun(first, loss=loss, heat=mass * living.MOIST if mass else None, watts=watts))
    room, watched, chances = Room(), Watch(), []
    at = first + HOUR
    while at + 3 * MINUTE <= house.at:
        before = [one for one in outer if at - 3 * HOUR < one[0] <= at]
        a = series.mean(series.without_outliers(before, floor=0.25), at - HOUR, at)
        room = heard(room, at, a)
        hour = hour_of(at, [[one for one in read if at - 165 * MINUTE <= one[0] <= at]], (), duty=duty(at))
        hour = replace(hour, air_c=a)
        bed = took(bed, hour)
        watched = watch(watched, bed.zone, hour)
        plan = as_now(hour.duty)
        told, bed = forecast(bed, room, at=at, now_c=hour.end_c, limits=(15.0, 32.0), plan=plan)
        chances.append(told.least[1].chance if told else None)
        at += HOUR
    return bed, watched, room, chances


def test_what_rounds_learn_is_what_the_hours_say_by_hand_to_the_last_bit():
    house = shed(mats=()).live(60).run()
    bed, watched, room, _ = by_hand(
        house, "fig.west", "fig-west", heated=(35.0, living.loss_of("tub", 0.3, 0.25), None)
    )
    found = learned(house)["fig.west"]
    assert bed == found.learned
    assert watched == found.watch
    around = rooms_in(documents_of(house.store))["shed"][0]
    assert (room.newest, room.past) == (around.newest, around.past[-len(room.past) :])
    assert found.learned.zone.hours > 50
    assert found.learned.past.dresses[0].errors[-1] is not None


def test_a_mat_that_is_switched_by_hand_is_known_by_the_diary_from_its_first_word_on():
    house = shed().live(30)
    assert not learned(house)["fig.west"].learned.zone.warmed
    ask(house, "diary", deed="mat on", subject="mat:long-mat")
    written = house.at
    house.live(5).run()
    zone = learned(house)["fig.west"].learned.zone
    assert zone.warmed
    assert "the mat was moved" == zone.why
    at = zone.newest
    assert duty_by_diary([(written, True)], at - HOUR, at) == zone.recent[-1].duty == 1.0


@pytest.mark.parametrize("hours", [3, 26, 61])
def test_a_kill_at_any_hour_changes_nothing_of_it(hours):
    one, other = shed().live(hours), shed().live(hours)
    other.restart()
    assert learned(one) == {z: other.rounds._hourly.bed(z) for z in learned(one)}
    for house in (one, other):
        house.live(30).run()
    assert learned(one) == learned(other)
    assert one.store.standing("bed hour") == other.store.standing("bed hour")


def test_what_is_kept_each_hour_is_short_and_once_a_day_it_is_whole():
    house = shed().live(60)
    hours = house.store.standing(kept.BED_HOUR)
    assert {"zone:fig.west": 23, "zone:plum.near": 23} == Counter(key.partition("/")[0] for key in hours)
    assert max(map(len, hours.values())) < 1500
    assert {"zone:fig.west", "zone:plum.near"} == set(house.store.standing(kept.BED))
    assert not {kind for kind, _ in house.store.load().standing} & APART


def test_a_round_that_could_not_be_kept_has_taught_nothing():
    house = shed().live(20)
    before, commit = learned(house), house.store.commit

    def full(_):
        raise StoreFull("full")

    house.store.commit = full
    house.live(2)
    assert before == learned(house)
    house.store.commit = commit
    house.run()
    twin = shed().live(22).run()
    assert learned(twin) == learned(house)


def test_it_learns_from_what_was_kept_before_it_could():
    old = shed().live(24 * 4, rounds=False)
    for _ in range(12):
        old.run(1)
    lived = shed().live(24 * 4).run()
    assert learned(lived)["fig.west"].learned.zone.theta == pytest.approx(
        learned(old)["fig.west"].learned.zone.theta, rel=0.05
    )
    assert learned(old)["fig.west"].learned.zone.newest == lived.at // HOUR * HOUR


def test_hours_of_silence_are_passed_and_nothing_is_learned_across_them():
    house = shed().live(30)
    before = learned(house)["fig.west"].learned
    house.at += 40 * HOUR
    house.live(6).run()
    after = learned(house)["fig.west"].learned
    assert len(after.past.seen) == 24
    assert after.past.seen[-10:-6] == (None,) * 4
    assert 0 < after.zone.hours - before.zone.hours <= 4


@pytest.mark.parametrize(
    ("deed", "subject", "why"),
    [
        ("harvested", "bin:fig", "the bedding was halved or harvested"),
        ("insulation changed", "bin:fig", "the insulation was changed"),
        ("cover changed", "zone:fig.west", "the insulation was changed"),
        ("moved", "mat:long-mat", "the mat was moved"),
        ("moved", "bin:fig", "the bin was moved to another place"),
    ],
)
def test_the_diary_lets_a_bed_learn_anew(deed, subject, why):
    house = shed().live(30)
    ask(house, "diary", deed=deed, subject=subject)
    house.live(2).run()
    zone = learned(house)["fig.west"].learned.zone
    assert why == zone.why
    assert zone.excited <= 2
    other = learned(house)["plum.near"].learned.zone
    assert ("" if subject != "mat:long-mat" else why) == other.why


def test_a_zone_that_is_reset_begins_as_on_its_first_day():
    house = shed().live(40)
    ask(house, "diary", deed="learns anew", subject="zone:fig.west")
    house.live(1)
    bed = learned(house)["fig.west"]
    assert 0 == bed.learned.zone.hours
    assert 1 == len(bed.learned.past.seen)
    assert learned(house)["plum.near"].learned.zone.hours > 30


def test_a_bin_under_another_name_keeps_what_it_has_learned(tmp_path):
    house = shed(store=SqliteStore(tmp_path / "v.db")).live(30)
    before = learned(house)
    names = Names(bins={"fig": "olive"}, zones={"fig.west": "olive.west"}, places={"shed": "barn"})
    house.store.take_up(taking("b", names=names))
    after = learned(house)
    assert {"olive.west", "plum.near"} == set(after)
    assert before["fig.west"] == after["olive.west"]
    assert {"barn"} == set(rooms_in(documents_of(house.store)))
    house.store.close()


def test_hours_that_a_wrong_clock_told_are_lived_again_at_their_right_times():
    house = shed().live(30)
    whole = {k: json.loads(b) for k, b in house.store.standing(kept.BED).items()}["zone:fig.west"]["past"][
        "newest"
    ]
    late = Move(by=7 * HOUR + 23 * MINUTE, begin=whole + 2 * HOUR, now=house.at + DAY)
    hours = house.store.standing(kept.BED_HOUR)
    left = {k: b for k, b in hours.items() if STANDING[kept.BED_HOUR](b, late, 0) is not None}
    assert all(kept.noted_of(b).hour.at <= late.begin for b in left.values())
    assert 0 < len(left) < len(hours)
    bed = house.store.standing(kept.BED)["zone:fig.west"]
    assert bed == STANDING[kept.BED](bed, late, 0), "kept whole before the clock was wrong"
    all_of_it = Move(by=7 * HOUR + 23 * MINUTE, begin=BEGINS, now=house.at + DAY)
    moved, _ = kept.bed_of(STANDING[kept.BED](bed, all_of_it, 0), None, [])
    before, _ = kept.bed_of(bed, None, [])
    assert whole + 7 * HOUR == moved.learned.past.newest == moved.learned.zone.newest
    assert before.learned.zone.theta == moved.learned.zone.theta
    assert before.learned.past.dresses == moved.learned.past.dresses
    assert () == moved.learned.zone.recent


def test_what_cannot_be_read_any_more_is_learned_anew_and_stops_nobody():
    house = shed().live(30)
    house.store._standing[kept.BED, "zone:fig.west"] = '{"kind":"learned","version":99}'
    house.restart()
    assert "plum.near" in learned(house)
    house.live(3).run()
    assert learned(house)["fig.west"].learned.zone.hours <= 3


def test_readings_that_came_late_are_no_part_of_an_hour_that_is_over():
    house = shed(mats=()).live(30)
    before = learned(house)
    late = [Reading("fig-west", house.at - 5 * HOUR + n * MINUTE, 35.0, house.at) for n in range(1, 9)]
    house.store.keep(Batch(readings=late))
    house.rounds.run()
    assert before == learned(house)
