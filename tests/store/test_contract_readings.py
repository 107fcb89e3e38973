"""Every sentence of promises.Readings, for every store."""

import math
from dataclasses import replace

import pytest

from monitor.errors import BadValue, StoreError
from monitor.readings import DAY, HOUR, MINUTE, RESOLUTION, Quality, RefusalKind
from monitor.store.promises import Batch, Bucket, Delivered, Kept
from parts.kept import T0, batch, numbered, reading, refusal, undated


def everything(store):
    return store.after(0), store.undated(), store.refusals(), store.refusal_counts(), store.delivered()


def test_a_new_store_has_nothing(store):
    assert ([], [], [], {}, []) == everything(store)
    assert 0 == store.last_arrival() == store.counted()
    assert [] == store.latest("fig-west") == store.window("fig-west", 0, T0 + DAY)
    assert store.unchanged_since("fig-west") is None
    assert {} == store.contradictions()


def test_readings_come_back_as_they_were_with_rising_arrival_numbers(store):
    given = [
        reading("fig-west", 0, 21.0625, received_at=T0 + 340, own_time=True),
        reading("fig-east", 0, -127.0, quality=Quality.DISCONNECTED),
        reading("plum-damp", -3, 2700.0, received_at=T0 + 5 * DAY, own_time=True, quality=Quality.STALE),
        reading("fig-west", 5, 85.0, received_at=T0 - DAY, own_time=True, quality=Quality.AHEAD),
    ]
    assert Kept(4, 0, 0, 4) == store.keep(batch(*given))
    assert numbered(given) == store.after(0)
    assert 4 == store.last_arrival() == store.counted()


@pytest.mark.parametrize("quality", Quality)
@pytest.mark.parametrize("own_time", [True, False])
def test_every_quality_comes_back(store, quality, own_time):
    given = reading(quality=quality, own_time=own_time, received_at=T0 - 7)
    store.keep(batch(given))
    assert numbered([given]) == store.after(0) == store.latest("fig-west")


def test_values_are_kept_in_steps_of_the_resolution(store):
    store.keep(
        batch(reading(minute=0, value=21.00004), reading(minute=1, value=-0.00006), reading(minute=2, value=1e-9))
    )
    assert [21.0, -1 / RESOLUTION, 0.0] == [r.value for r in store.after(0)]


def test_every_sixteenth_of_a_degree_comes_back_exactly(store):
    steps = [n / 16 for n in range(-55 * 16, 125 * 16 + 1)]  # a 12-bit 1-wire probe's whole range
    store.keep(batch(*(reading(minute=n, value=v) for n, v in enumerate(steps))))
    assert steps == [r.value for r in store.after(0)]


@pytest.mark.parametrize("value", [1e15, 1e300, 1.7976931348623157e308])
def test_a_value_beyond_64_bits_is_kept_as_the_largest(store, value):
    store.keep(batch(reading(minute=0, value=value), reading(minute=1, value=-value)))
    largest = (2**63 - 1) / RESOLUTION
    assert [largest, -largest] == [r.value for r in store.after(0)]
    assert Kept(0, 1, 0, 2) == store.keep(batch(reading(minute=0, value=value)))


def test_the_same_reading_twice_is_kept_once(store):
    store.keep(batch(reading(value=21.0)))
    again = reading(value=21.0, received_at=T0 + HOUR, quality=Quality.STALE, own_time=True)
    assert Kept(0, 1, 0, 1) == store.keep(batch(again))
    assert numbered([reading(value=21.0)]) == store.after(0)
    assert {} == store.contradictions()


def test_of_two_values_at_one_time_the_first_wins_and_is_counted(store):
    store.keep(batch(reading(value=21.0)))
    assert Kept(0, 0, 1, 1) == store.keep(batch(reading(value=21.5)))
    assert Kept(1, 0, 1, 2) == store.keep(batch(reading(value=22.0), reading("fig-east")))
    assert [21.0] == [r.value for r in store.window("fig-west", T0, T0 + 1)]
    assert {"fig-west": 2} == store.contradictions()


def test_of_two_values_at_one_time_in_one_batch_the_first_wins(store):
    assert Kept(1, 1, 1, 1) == store.keep(batch(reading(value=21.0), reading(value=22.0), reading(value=21.0)))
    assert [21.0] == [r.value for r in store.after(0)]


def test_values_that_differ_below_the_resolution_are_the_same(store):
    assert Kept(1, 1, 0, 1) == store.keep(batch(reading(value=21.0), reading(value=21.00001)))


def test_the_same_time_of_two_probes_is_two_readings(store):
    assert Kept(2, 0, 0, 2) == store.keep(batch(reading("fig-west"), reading("fig-east")))


def test_a_reading_known_long_ago_is_known_still(store):
    old = [reading(minute=n, value=n) for n in range(50)]
    for one in old:
        store.keep(batch(one))
    assert Kept(0, 50, 0, 50) == store.keep(batch(*old))
    assert Kept(0, 0, 50, 50) == store.keep(batch(*(replace(r, value=r.value + 1) for r in old)))


def test_readings_and_undated_values_share_their_numbers_readings_first(store):
    kept = store.keep(
        batch(reading(minute=0), reading(minute=1), undated=[undated(value=1.5), undated(value=2.5)])
    )
    assert Kept(2, 0, 0, 4) == kept
    store.keep(batch(reading(minute=2), undated=[undated("plum-near", 3.5)]))
    assert [1, 2, 5] == [r.arrival for r in store.after(0)]
    assert [(3, 1.5), (4, 2.5), (6, 3.5)] == [(u.arrival, u.value) for u in store.undated()]
    assert ["fig-west", "fig-west", "plum-near"] == [u.probe for u in store.undated()]
    assert 6 == store.last_arrival()
    assert 3 == store.counted()


def test_the_arrival_handed_in_counts_for_nothing(store):
    store.keep(batch(reading(arrival=900), undated=[replace(undated(), arrival=7)]))
    assert [1] == [r.arrival for r in store.after(0)]
    assert [2] == [u.arrival for u in store.undated()]


def test_the_newest_undated_are_given_newest_last(store):
    store.keep(batch(undated=[undated(value=n) for n in range(5)]))
    assert [3.0, 4.0] == [u.value for u in store.undated(limit=2)]
    assert [] == store.undated(limit=0)


def test_an_empty_batch_changes_nothing(store):
    store.keep(batch(reading()))
    assert Kept(0, 0, 0, 1) == store.keep(Batch())
    assert 1 == store.last_arrival()


def test_after_gives_what_came_later_in_order_of_arrival(store):
    given = [reading(f"p{n % 3}", minute=50 - n, value=n) for n in range(20)]
    for first in range(0, 20, 4):
        store.keep(batch(*given[first : first + 4]))
    for arrival in range(21):
        assert numbered(given)[arrival:] == store.after(arrival)
        assert numbered(given)[arrival : arrival + 6] == store.after(arrival, limit=6)
    assert [] == store.after(20) == store.after(0, limit=0) == store.after(10**12)


def test_window_takes_its_start_and_leaves_its_end(store):
    given = [reading(minute=n, value=n) for n in (3, 1, 2, 0, 4)]
    store.keep(batch(*given, reading("fig-east", 2)))
    assert [1.0, 2.0] == [r.value for r in store.window("fig-west", T0 + MINUTE, T0 + 3 * MINUTE)]
    assert [0.0, 1.0, 2.0, 3.0, 4.0] == [r.value for r in store.window("fig-west", T0 - 1, T0 + 5 * MINUTE)]
    assert [] == store.window("fig-west", T0 + 1, T0 + MINUTE) == store.window("nobody", 0, T0 + DAY)
    assert [] == store.window("fig-west", T0 + 3 * MINUTE, T0)


def test_window_holds_readings_of_every_quality(store):
    store.keep(batch(*(reading(minute=q, quality=q) for q in Quality)))
    assert list(Quality) == [r.quality for r in store.window("fig-west", T0, T0 + HOUR)]


def test_window_puts_a_late_reading_into_its_place(store):
    store.keep(batch(*(reading(minute=n) for n in range(0, 20, 2))))
    store.keep(batch(reading(minute=7)))
    assert [4, 6, 7, 8] == [
        (r.at - T0) // MINUTE for r in store.window("fig-west", T0 + 4 * MINUTE, T0 + 9 * MINUTE)
    ]


def test_latest_is_the_newest_by_time_newest_last(store):
    store.keep(batch(*(reading(minute=n, value=n) for n in (5, 9, 1, 7, 3))))
    assert [9.0] == [r.value for r in store.latest("fig-west")]
    assert [5.0, 7.0, 9.0] == [r.value for r in store.latest("fig-west", 3)]
    assert [1.0, 3.0, 5.0, 7.0, 9.0] == [r.value for r in store.latest("fig-west", 50)]
    assert [] == store.latest("fig-west", 0) == store.latest("nobody")


def test_latest_of_several_is_the_latest_of_each(store):
    store.keep(batch(*(reading(minute=n, value=n) for n in (5, 9, 1, 7, 3)), reading("fig-east", 2, 40)))
    store.keep(batch(reading("fig-east", 1, 41), reading("plum-near", 4, 42)))
    probes = ["fig-west", "fig-east", "nobody"]
    assert {p: store.latest(p, 2) for p in probes} == store.latest_of(probes, 2)
    assert {p: store.latest(p, 50) for p in probes} == store.latest_of(probes, 50)
    assert {} == store.latest_of([], 3)


def test_latest_can_pass_over_what_arrived_later(store):
    store.keep(batch(*(reading(minute=n, value=n) for n in (5, 9, 1, 7, 3))))
    assert [5.0] == [r.value for r in store.latest("fig-west", 1, upto_arrival=1)]
    assert [1.0, 5.0, 9.0] == [r.value for r in store.latest("fig-west", 9, upto_arrival=3)]
    assert [] == store.latest("fig-west", 9, upto_arrival=0)


def test_unchanged_since_is_where_the_newest_run_of_equal_values_began(store):
    for minute, value in enumerate([20, 21, 21, 20, 21, 21, 21]):
        store.keep(batch(reading(minute=minute, value=value)))
    assert T0 + 4 * MINUTE == store.unchanged_since("fig-west")
    assert T0 + 3 * MINUTE == store.unchanged_since("fig-west", upto_arrival=4)
    assert T0 + 1 * MINUTE == store.unchanged_since("fig-west", upto_arrival=3)
    assert T0 == store.unchanged_since("fig-west", upto_arrival=1)
    assert store.unchanged_since("fig-west", upto_arrival=0) is None


def test_unchanged_since_goes_back_to_the_first_reading_when_nothing_ever_changed(store):
    store.keep(batch(*(reading(minute=n) for n in range(9))))
    assert T0 == store.unchanged_since("fig-west")


def test_unchanged_since_counts_a_late_reading_at_its_own_time(store):
    store.keep(batch(*(reading(minute=n, value=20) for n in range(0, 10, 2))))
    store.keep(batch(reading(minute=5, value=23)))
    assert T0 + 6 * MINUTE == store.unchanged_since("fig-west")
    assert T0 == store.unchanged_since("fig-west", upto_arrival=5)


def test_buckets_sum_up_trusted_readings(store):
    values = [20.0, 21.0, 24.5, 85.0, 22.0, 23.0]
    qualities = [Quality.GOOD, Quality.STALE, Quality.GOOD, Quality.POWER_ON, Quality.GOOD, Quality.GOOD]
    minutes = [0, 5, 14, 15, 45, 59]
    store.keep(
        batch(*(reading(minute=m, value=v, quality=q) for m, v, q in zip(minutes, values, qualities, strict=True)))
    )
    assert [
        Bucket(T0, 3, 20.0, 65.5 / 3, 24.5),
        Bucket(T0 + 45 * MINUTE, 2, 22.0, 22.5, 23.0),
    ] == store.buckets("fig-west", T0, T0 + HOUR, 15 * MINUTE)
    assert [] == store.buckets("nobody", T0, T0 + HOUR, 15 * MINUTE)


def test_buckets_are_counted_from_their_start_and_leave_their_end(store):
    store.keep(batch(*(reading(minute=m, value=m) for m in range(10))))
    assert [
        Bucket(T0 + 3 * MINUTE, 4, 3.0, 4.5, 6.0),
        Bucket(T0 + 7 * MINUTE, 1, 7.0, 7.0, 7.0),
    ] == store.buckets("fig-west", T0 + 3 * MINUTE, T0 + 8 * MINUTE, 4 * MINUTE)


def test_refusals_come_back_newest_last_and_are_counted(store):
    other = refusal("probes/new", RefusalKind.UNKNOWN_TOPIC, 9)
    store.keep(batch(refusals=[refusal(number=1), refusal(number=2)]))
    store.keep(batch(reading(), refusals=[replace(other, probe=None, excerpt=b"")]))
    assert [refusal(number=1), refusal(number=2), replace(other, probe=None, excerpt=b"")] == store.refusals()
    assert [refusal(number=2), replace(other, probe=None, excerpt=b"")] == store.refusals(limit=2)
    counted = {("probes/fig-west", "not a number"): 2, ("probes/new", "no probe has this topic"): 1}
    assert counted == store.refusal_counts()


def test_the_newest_thousand_refusals_are_kept_and_all_are_counted(store):
    for hundred in range(70):
        store.keep(batch(refusals=[refusal(number=hundred * 100 + n) for n in range(100)]))
        newest = min(1000, (hundred + 1) * 100)
        assert newest <= len(store.refusals(10_000))
    assert [refusal(number=n) for n in range(6000, 7000)] == store.refusals(1000)
    assert {("probes/fig-west", "not a number"): 7000} == store.refusal_counts()


def test_deliveries_come_back_newest_last(store):
    given = [Delivered(packet, digest) for packet, digest in [(1, 0), (65_535, 2**64 - 1), (1, 77)]]
    store.keep(batch(delivered=given[:2]))
    store.keep(batch(reading(), delivered=given[2:]))
    assert given == store.delivered()
    assert given[1:] == store.delivered(limit=2)
    assert [] == store.delivered(limit=0)


def test_the_newest_65536_deliveries_are_kept(store):
    given = [Delivered(n % 65_536, n) for n in range(75_000)]
    for first in range(0, 75_000, 7000):
        store.keep(batch(delivered=given[first : first + 7000]))
    assert given[-65_536:] == store.delivered()
    assert given[-100:] == store.delivered(limit=100)
    assert given[-65_536:] == store.delivered(limit=70_000)


@pytest.mark.parametrize(
    "delivered", [Delivered(-1, 0), Delivered(65_536, 0), Delivered(0, -1), Delivered(0, 2**64)]
)
def test_a_delivery_beyond_its_bits_is_refused_and_nothing_is_kept(store, delivered):
    with pytest.raises(BadValue):
        store.keep(batch(reading(), delivered=[delivered]))
    assert ([], [], [], {}, []) == everything(store)


@pytest.mark.parametrize(
    "bad",
    [
        reading("fig-east", received_at=2**70),
        replace(reading("fig-east"), at=2**63),
        replace(reading("fig-east"), at=-(2**70)),
        reading("fig-\ud800"),
    ],
    ids=["received beyond 64 bits", "time of 64 bits", "time before 64 bits", "not Unicode"],
)
def test_what_could_not_be_read_back_is_refused_and_nothing_is_kept(store, bad):
    store.keep(batch(reading()))
    with pytest.raises(BadValue):
        store.keep(batch(reading(minute=1), bad, refusals=[refusal()]))
    assert numbered([reading()]) == store.after(0)
    assert [] == store.refusals()
    assert Kept(2, 0, 0, 3) == store.keep(batch(reading(minute=1), reading("fig-east")))


def test_a_list_that_was_given_out_is_the_callers_own(store):
    store.keep(batch(reading()))
    store.after(0).clear()
    store.window("fig-west", T0, T0 + 1).clear()
    store.latest("fig-west").clear()
    assert 1 == len(store.after(0)) == len(store.window("fig-west", T0, T0 + 1)) == len(store.latest("fig-west"))


def test_a_mean_lies_between_low_and_high(store):
    store.keep(batch(*(reading(minute=n, value=20 + n / 10) for n in range(100))))
    for bucket in store.buckets("fig-west", T0, T0 + DAY, 7 * MINUTE):
        assert bucket.low <= bucket.mean <= bucket.high
        assert math.isclose((bucket.low + bucket.high) / 2, bucket.mean)


def test_after_closing_every_question_is_refused(store):
    store.keep(batch(reading()))
    store.close()
    store.close()
    for ask in (
        lambda: store.keep(batch(reading(minute=1))),
        lambda: store.after(0),
        store.last_arrival,
        lambda: store.window("fig-west", 0, T0),
        store.counted,
    ):
        with pytest.raises(StoreError):
            ask()
