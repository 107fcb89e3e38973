"""Every sentence of promises.Summaries, for every store. What is summed up must never be seen: only its speed."""

import random
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pandas
import pytest

from monitor.names import Names
from monitor.readings import DAY, HOUR, MINUTE, Quality, Reading
from monitor.store.sqlite import SqliteStore
from parts.kept import T0, batch, reading, taking

EVER = 2**62
HERE = T0 // DAY * DAY


def some(seed, count=150, probe="fig-west", over=9 * DAY):
    """Readings at odd times, some of them not to be trusted, some probes silent for hours."""
    draw = random.Random(seed)
    times = sorted(draw.sample(range(0, over, 1000), count))
    qualities = [Quality.GOOD] * 9 + [Quality.STALE, Quality.JUMP, Quality.OUT_OF_RANGE]
    return [
        Reading(probe, HERE + at, round(draw.uniform(-5, 40) * 16) / 16, HERE + at, draw.choice(qualities))
        for at in times
        if not 30 * HOUR < at < 50 * HOUR
    ]


def summed(store, upto=EVER):
    while store.summarise(upto):
        pass


def days_of(zone, first, count):
    """Midnights of a zone, in milliseconds."""
    days = [first + timedelta(days=n) for n in range(count + 1)]
    return [int(datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC).timestamp() * 1000) for day in days]


EDGES = {
    "hours": list(range(HERE, HERE + 9 * DAY + 1, HOUR)),
    "days": list(range(HERE, HERE + 9 * DAY + 1, DAY)),
    "days half an hour aside": days_of("Asia/Kolkata", date(2026, 1, 13), 11),
    "days a quarter aside": days_of("Asia/Kathmandu", date(2026, 1, 13), 11),
    "odd": [
        HERE + 1,
        HERE + 7 * MINUTE,
        HERE + 3 * HOUR + 1,
        HERE + 3 * HOUR + 2,
        HERE + 5 * DAY + 11,
        HERE + 8 * DAY,
    ],
    "within an hour": [HERE + DAY + MINUTE, HERE + DAY + 9 * MINUTE, HERE + DAY + 50 * MINUTE],
    "beside everything": [HERE - 9 * DAY, HERE - 8 * DAY, HERE + 40 * DAY],
    "one edge": [HERE],
    "none": [],
}


def by_pandas(readings, edges):
    """The same by a library that shares no code with the product."""
    frame = pandas.DataFrame([(r.at, r.value) for r in readings if r.quality.trusted], columns=["at", "value"])
    if len(edges) < 2 or frame.empty:
        return []
    where = pandas.cut(frame["at"], edges, right=False, labels=edges[:-1])
    found = frame.groupby(where, observed=True)["value"].agg(["count", "min", "mean", "max"])
    return [
        (int(at), int(n), low, pytest.approx(mean, abs=1e-9), high)
        for at, n, low, mean, high in found.itertuples()
    ]


def told(buckets):
    return [(b.start, b.count, b.low, b.mean, b.high) for b in buckets]


@pytest.mark.parametrize("when", ["before", "after", "halfway"])
@pytest.mark.parametrize("name", EDGES)
def test_spans_are_what_pandas_makes_of_the_readings(store, name, when):
    given = some(7)
    store.keep(batch(*given, *some(8, probe="fig-east")))
    if when != "before":
        summed(store, EVER if when == "after" else HERE + 4 * DAY + 5 * MINUTE)
    assert by_pandas(given, EDGES[name]) == told(store.spans("fig-west", EDGES[name]))


@pytest.mark.parametrize("seed", range(3))
def test_what_comes_late_into_an_hour_is_in_its_sum(store, seed):
    given = some(seed)
    late = random.Random(seed).sample(given, 60)
    store.keep(batch(*(r for r in given if r not in late)))
    summed(store, HERE + 7 * DAY)
    expected = by_pandas(given, EDGES["days"])
    for start in range(0, 60, 20):
        store.keep(batch(*late[start : start + 20]))
        if start:
            store.summarise(HERE + 8 * DAY)
    assert expected == told(store.spans("fig-west", EDGES["days"]))
    summed(store)
    assert expected == told(store.spans("fig-west", EDGES["days"]))
    assert by_pandas(given, EDGES["hours"]) == told(store.spans("fig-west", EDGES["hours"]))


def test_history_from_before_the_first_summing_up_is_in_it(store):
    store.keep(batch(reading(minute=0, value=20)))
    summed(store)
    store.keep(
        batch(Reading("fig-west", HERE - 400 * DAY, 3.0, HERE), Reading("fig-west", -7 * DAY + 1, 5.0, HERE))
    )
    edges = [-8 * DAY, 0, HERE - 300 * DAY, HERE + 5 * DAY]
    expected = [(-8 * DAY, 1, 5.0, 5.0, 5.0), (0, 1, 3.0, 3.0, 3.0), (HERE - 300 * DAY, 1, 20.0, 20.0, 20.0)]
    assert expected == told(store.spans("fig-west", edges))
    summed(store)
    assert expected == told(store.spans("fig-west", edges))


def test_a_day_of_23_and_one_of_25_hours_are_days(store):
    edges = days_of("Europe/Lisbon", date(2026, 3, 28), 3)
    assert [24, 23, 24] == [(end - start) // HOUR for start, end in pairwise(edges)]
    given = [Reading("fig-west", at, at % 7 / 2, at) for at in range(edges[0], edges[-1], 10 * MINUTE)]
    store.keep(batch(*given))
    summed(store)
    assert [144, 138, 144] == [b.count for b in store.spans("fig-west", edges)]
    assert by_pandas(given, edges) == told(store.spans("fig-west", edges))


def test_summing_up_again_changes_nothing_and_says_that_nothing_is_to_do(store):
    store.keep(batch(*some(1)))
    summed(store)
    assert not store.summarise(EVER)
    assert [] == store.spans("nobody", EDGES["days"])


def test_an_id_that_goes_on_under_another_takes_its_sums_along(store):
    given, more = some(1), some(2, probe="fig-lee", count=100)
    store.keep(batch(*given))
    store.keep(batch(*more))
    summed(store)
    store.take_up(taking(names=Names(probes={"fig-west": "fig-lee"})))
    kept = {r.at: r for r in reversed([*given, *more])}
    expected = by_pandas([kept[at] for at in sorted(kept)], EDGES["days"])
    assert expected == told(store.spans("fig-lee", EDGES["days"]))
    assert [] == store.spans("fig-west", EDGES["days"])
    summed(store)
    assert expected == told(store.spans("fig-lee", EDGES["days"]))


@pytest.mark.parametrize("by", [-3 * HOUR, 26 * HOUR + 7])
def test_times_that_were_off_are_put_right_in_the_sums(store, by):
    before = [reading(minute=n, value=n) for n in range(-500, 0)]
    store.keep(batch(*before))
    mark = store.mark()
    provisional = [reading(minute=n, value=n) for n in range(1, 400)]
    store.keep(batch(*provisional))
    summed(store)
    now = T0 + by + 400 * MINUTE
    store.shift(shift_of(by, mark, now))
    moved = store.window("fig-west", 0, EVER)
    assert 899 == len(moved)
    expected = by_pandas(moved, EDGES["hours"])
    assert expected == told(store.spans("fig-west", EDGES["hours"]))
    summed(store)
    assert expected == told(store.spans("fig-west", EDGES["hours"]))


def shift_of(by, mark, now):
    from monitor.store.promises import Shift

    return Shift(by=by, begin=T0, end=T0 + 400 * MINUTE, now=now, above=mark, anew=lambda r: r.quality)


def test_hours_that_are_summed_up_are_drawn_from_their_sums(tmp_path):
    """The control: with the sums spoilt the answer is spoilt, so the tests above do look at them."""
    store = SqliteStore(tmp_path / "kept.db")
    store.keep(batch(*some(1)))
    summed(store)
    store._write(lambda file: file.execute("UPDATE hour SET high = 990000"))
    assert {99.0} == {b.high for b in store.spans("fig-west", EDGES["days"])}
    store.close()
