"""A thermometer that leaves its neighbours: day means out of the store, an alarm of its own, and how it ends."""

from dataclasses import replace

import pytest

from monitor.alarms.priority import priority_of
from monitor.checks.drift import LOOKS_BACK
from monitor.errors import StoreBusy
from monitor.neighbours import AT_ONCE, Neighbours
from monitor.readings import DAY, HOUR, Reading
from monitor.rules import Place
from monitor.shifting import STANDING, Move
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.asking import ask, told
from parts.house import House
from parts.orchard import ms

NOW = ms("08:00")
TODAY = NOW // DAY
FIG = replace(
    orchard.FIG,
    zones=tuple(
        replace(z, probes=tuple(p for p in z.probes if p.measures == "temperature")) for z in orchard.FIG.zones
    ),
)
LIVING = [z.probes[0].id for z in FIG.zones if z.role == "living"]


@pytest.fixture(params=["memory", "sqlite"])
def store(request, tmp_path):
    store = MemoryStore() if request.param == "memory" else SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def lived(store, *, away=10, days=40, last=TODAY, by=3.0):
    """Six readings a day of every living zone; the last of them has left the others for `away` days."""
    readings = []
    for day in range(last - days, last):
        for hour in range(0, 24, 4):
            at = day * DAY + hour * HOUR
            for n, probe in enumerate(LIVING):
                odd = by if n == len(LIVING) - 1 and day >= last - away else 0.0
                readings.append(Reading(probe, at, 24.0 + 0.25 * n + odd + 0.0625 * (hour % 3), at))
    store.keep(Batch(readings=readings))


def rules():
    return replace(
        orchard.rules(bins=(FIG,), mats=(), people=(orchard.ANA,)), places={"shed": Place("shed", "Shed")}
    )


def house_in(store, at=NOW):
    house = House(rules=rules(), store=store, at=at)
    house.say(**{p.replace("-", "_"): 24.0 for p in house.rules.probes()})
    return house


def drifts(house):
    return [a for (_, condition), a in house.standing().items() if condition == "drifting"]


def test_there_are_two_living_zones_to_compare():
    assert 2 == len(LIVING)


def test_it_is_an_alarm_of_the_probe_with_what_to_do(store):
    lived(store)
    house = house_in(store)
    (alarm,) = drifts(house)
    assert (max(LIVING), "medium") == (alarm.key.subject.id, priority_of(alarm.key, alarm.level).name.lower())
    orders = [o for a in house.store.load().advice for o in a.orders if alarm.number in o.alarms]
    assert ["ice water tells which" in o.words for o in orders] == [True]
    assert 1 == len(told(house))


def test_a_restart_changes_nothing(store):
    lived(store)
    house = house_in(store)
    house.later(minutes=1).restart()
    house.rounds.run()
    house.later(minutes=1).rounds.run()
    assert 1 == len(drifts(house))
    assert [("raised")] == [str(s[2]) for s in house.steps("drifting")]


def test_without_drift_there_is_no_alarm(store):
    lived(store, by=0.0)
    assert [] == drifts(house_in(store))


def test_done_begins_the_comparison_anew(store):
    lived(store)
    house = house_in(store)
    (alarm,) = drifts(house)
    ask(house, "done", alarm.number, note="new batteries and ice water")
    assert 1 == len(drifts(house))
    for day in range(1, 5):
        house.at = NOW + day * DAY
        lived(store, away=day, days=1, last=TODAY + day)
        house.rounds.run()
    assert [] == drifts(house)


def test_another_offset_begins_it_anew_and_nothing_is_told_of_the_past(store):
    lived(store)
    house = house_in(store)
    west, *others = FIG.zones
    mended = {z.id: replace(z.probes[0], offset=-3.0) for z in FIG.zones if z.probes[0].id == LIVING[-1]}
    zones = tuple(replace(z, probes=(mended[z.id],)) if z.id in mended else z for z in (west, *others))
    house.restart(replace(house.rules, bins={"fig": replace(FIG, zones=zones)}))
    for day in range(0, 20):
        house.at = NOW + day * DAY + HOUR
        if day:
            lived(store, away=day, days=1, last=TODAY + day)
        house.rounds.run()
    assert [] == drifts(house)


def test_a_probe_that_has_no_neighbour_any_more_drifts_from_nobody(store):
    lived(store)
    house = house_in(store)
    alone = replace(FIG, zones=tuple(z for z in FIG.zones if z.probes[0].id != LIVING[0]))
    house.restart(replace(house.rules, bins={"fig": alone}))
    house.later(minutes=1).rounds.run()
    assert [] == drifts(house)


class Counted(MemoryStore):
    """Counts what it is asked for, and fails when told to."""

    asked = 0
    broken = False

    def buckets(self, *args):
        if self.broken:
            raise StoreBusy("not now")
        self.asked += 1
        return super().buckets(*args)


def test_each_group_is_read_once_a_day_and_then_only_the_newest_days():
    store = Counted()
    lived(store, days=5)
    neighbours = Neighbours(store, rules())
    first = neighbours.due(NOW)
    assert {"fig"} == set(first)
    assert {} == neighbours.due(NOW + HOUR)
    assert len(LIVING) == store.asked
    lived(store, days=1, last=TODAY + 1)
    again = neighbours.due(NOW + DAY)
    assert 6 == len(again["fig"][LIVING[0]])
    assert first["fig"][LIVING[0]].items() <= again["fig"][LIVING[0]].items()


def test_what_came_late_yesterday_is_read_again():
    store = Counted()
    lived(store, days=3)
    neighbours = Neighbours(store, rules())
    before = neighbours.due(NOW)["fig"][LIVING[0]][TODAY - 1]
    at = (TODAY - 1) * DAY + 23 * HOUR
    store.keep(Batch(readings=[Reading(LIVING[0], at, 30.0, NOW)]))
    assert neighbours.due(NOW + DAY)["fig"][LIVING[0]][TODAY - 1] > before


def test_a_store_that_cannot_tell_now_is_asked_again():
    store = Counted()
    lived(store, days=3)
    neighbours = Neighbours(store, rules())
    store.broken = True
    assert {} == neighbours.due(NOW)
    store.broken = False
    assert {"fig"} == set(neighbours.due(NOW))


def test_a_large_site_is_read_a_few_groups_a_round():
    beds = {
        f"b{n}": replace(
            FIG,
            id=f"b{n}",
            zones=tuple(replace(z, probes=(replace(z.probes[0], id=f"b{n}-{z.id}"),)) for z in FIG.zones),
        )
        for n in range(AT_ONCE + 3)
    }
    neighbours = Neighbours(MemoryStore(), replace(rules(), bins=beds))
    assert [1] * (AT_ONCE + 3) + [0] == [len(neighbours.due(NOW)) for _ in range(AT_ONCE + 4)]
    # whose past is known is read in less
    assert [AT_ONCE - 1, 4, 0] == [len(neighbours.due(NOW + DAY)) for _ in range(3)]


def test_days_too_long_ago_are_forgotten():
    store = Counted()
    lived(store, days=3)
    neighbours = Neighbours(store, rules())
    neighbours.due(NOW)
    assert {} == neighbours.due(NOW + LOOKS_BACK + 5 * DAY)["fig"][LIVING[0]]


def test_since_when_it_is_read_so_moves_with_a_clock_that_was_off():
    move = Move(by=3 * HOUR, begin=ms("07:00"), now=ms("12:00"))
    assert f'["x", {NOW + 3 * HOUR}]' == STANDING["read since"](f'["x", {NOW}]', move, 0)
