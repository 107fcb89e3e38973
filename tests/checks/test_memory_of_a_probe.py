"""What is remembered of a probe, and that it can be made again out of what is stored.

Silence: P = 5 min, three missed, late at 900 s and not at 899 (heartbeat practice) [common practice]; here never
less than 45 min, the documented default (proposal).
"""

from itertools import pairwise

import pytest

from checks.beds import T0, damp, every, reading, thermometer
from monitor.checks.memory import (
    GAPS,
    ProbeMemory,
    from_history,
    interval,
    is_fresh,
    is_late,
    middle,
    nothing_of,
    remember,
    remember_run,
    silence,
)
from monitor.readings import DAY, HOUR, MINUTE, SECOND, Quality, Reading

WEST = thermometer("fig-west")
DAMP = damp("fig-damp")


def remembered(readings: list[Reading], probe=WEST) -> ProbeMemory:
    memory = nothing_of(probe)
    for one in readings:
        memory = remember(memory, one)
    return memory


def test_an_interval_is_learned_from_the_median_gap():
    times = [0, 5, 10, 15, 95, 100, 105]  # a power cut in between
    memory = remembered([reading("fig-west", T0 + t * MINUTE, 20.0) for t in times])
    assert 5 * MINUTE == interval(WEST, memory)


def test_only_the_newest_gaps_count():
    slow = every(HOUR, [20.0] * 30)
    fast = every(10 * MINUTE, [20.0] * (GAPS + 1), start=slow[-1].at)[1:]
    memory = remembered(slow + fast)
    assert GAPS == len(memory.gaps)
    assert 10 * MINUTE == interval(WEST, memory)


def test_what_the_keeper_says_of_an_interval_goes_before_what_is_learned():
    memory = remembered(every(5 * MINUTE, [20.0] * 9))
    assert 2 * HOUR == interval(thermometer("fig-west", every=2 * HOUR), memory)


def test_nobody_knows_the_interval_of_a_probe_that_spoke_once():
    memory = remembered(every(MINUTE, [20.0]))
    assert interval(WEST, memory) is None
    assert 45 * MINUTE == silence(WEST, memory)


@pytest.mark.parametrize(
    ("own", "expected"), [(10 * SECOND, 45), (5 * MINUTE, 45), (15 * MINUTE, 45), (20 * MINUTE, 60), (HOUR, 180)]
)
def test_silence_is_three_intervals_and_never_under_three_quarters_of_an_hour(own: int, expected: int):
    assert expected * MINUTE == silence(thermometer("t", every=own), ProbeMemory())


def test_three_missed_messages_of_five_minutes_are_900_seconds():
    assert 900 * SECOND == silence(thermometer("t", every=300 * SECOND), ProbeMemory(), shortest=0)


def test_a_value_is_fresh_until_its_silence_is_over():
    memory = remembered(every(20 * MINUTE, [20.0] * 4))
    newest = T0 + HOUR
    assert is_fresh(WEST, memory, at=newest + HOUR)
    assert not is_fresh(WEST, memory, at=newest + HOUR + 1)


def test_a_late_reading_changes_nothing():
    memory = remembered(every(MINUTE, [20.0, 21.0]))
    for at in (T0 - 1, T0, T0 + MINUTE):
        late = reading("fig-west", at, 5.0)
        assert is_late(memory, late)
        assert memory is remember(memory, late)


def test_a_retained_reading_without_its_own_time_proves_nothing():
    memory = remembered(every(MINUTE, [20.0]))
    assert memory is remember(memory, reading("fig-west", T0 + HOUR, 5.0, Quality.RETAINED))


def test_a_reading_from_the_future_is_a_sign_of_life_and_moves_no_mark():
    before = remembered(every(MINUTE, [20.0]))
    ahead = Reading("fig-west", T0 + DAY, 5.0, T0 + HOUR, Quality.AHEAD, own_time=True)
    after = remember(before, ahead)
    assert (T0, T0 + HOUR, T0 + HOUR) == (after.last_at, after.heard, after.untrusted_since)
    assert (T0, 20.0) == (after.trusted_at, after.value)
    right = remember(after, reading("fig-west", T0 + HOUR + 1, 21.0))
    assert (T0 + HOUR + 1, 21.0, None) == (right.last_at, right.value, right.untrusted_since)


def test_a_sign_of_life_is_not_taken_back_by_an_older_word():
    ahead = Reading("fig-west", T0 + DAY, 5.0, T0 + HOUR, Quality.AHEAD, own_time=True)
    memory = remembered([reading("fig-west", T0, 20.0), ahead, reading("fig-west", T0 + MINUTE, 20.0)])
    assert (T0 + MINUTE, T0 + HOUR) == (memory.last_at, memory.heard)


BAD = [q for q in Quality if not q.trusted and q not in (Quality.RETAINED, Quality.AHEAD)]


@pytest.mark.parametrize("quality", BAD)
def test_a_bad_value_is_heard_and_not_believed(quality: Quality):
    memory = remembered([reading("fig-west", T0, 20.0), reading("fig-west", T0 + MINUTE, 85.0, quality)])
    assert (T0 + MINUTE, quality, T0 + MINUTE) == (memory.heard, memory.quality, memory.untrusted_since)
    assert (T0, 20.0) == (memory.trusted_at, memory.value)


def test_a_run_of_bad_values_began_with_its_first_and_ends_with_a_good_one():
    bad = [reading("fig-west", T0 + n * MINUTE, -127.0, Quality.DISCONNECTED) for n in range(1, 4)]
    memory = remembered([reading("fig-west", T0, 20.0), *bad])
    assert T0 + MINUTE == memory.untrusted_since
    assert remember(memory, reading("fig-west", T0 + HOUR, 20.0)).untrusted_since is None


def test_a_moisture_probe_keeps_a_day_thinned_to_the_half_hour():
    memory = remembered(every(MINUTE, range(3 * 24 * 60), probe="fig-damp"), DAMP)
    times = [at for at, _ in memory.day]
    assert 48 == len(times)
    assert {30 * MINUTE} == {b - a for a, b in pairwise(times)}
    assert memory.last_at - times[0] < DAY


def test_the_last_hours_least_and_greatest_are_exact():
    values = [50.0, 47.0, 61.0, 55.0, 53.0, 58.0, 49.0, 52.0, 51.0, 60.0]
    probe_says = every(10 * MINUTE, values, probe="fig-damp")
    memory = nothing_of(DAMP)
    for n, one in enumerate(probe_says):
        memory = remember(memory, one)
        hour = [r.value for r in probe_says[: n + 1] if one.at - r.at <= HOUR]
        assert (min(hour), max(hour)) == (memory.lows[0][1], memory.highs[0][1])


def test_a_thermometer_keeps_no_windows():
    memory = remembered(every(MINUTE, range(100)))
    assert ((), (), ()) == (memory.day, memory.lows, memory.highs)


def test_the_same_memory_comes_out_of_the_store():
    readings = every(7 * MINUTE, range(400), probe="fig-damp")
    assert remembered(readings, DAMP) == from_history(DAMP, reversed(readings))


def test_the_newest_day_of_a_moisture_probe_is_enough():
    readings = every(7 * MINUTE, range(600), probe="fig-damp")
    newest = [r for r in readings if r.at > readings[-1].at - DAY - HOUR]
    whole, enough = remembered(readings, DAMP), from_history(DAMP, newest)
    assert whole.lows == enough.lows
    assert whole.highs == enough.highs
    assert whole.gaps == enough.gaps
    # the first slot of the shorter history began in its middle; it is older than a day and counts no more
    assert whole.day[1:] == enough.day[1:]


def test_a_reading_that_was_late_is_late_again_after_a_restart():
    first, late, last = (
        Reading("fig-west", T0 + t * MINUTE, v, T0 + HOUR, own_time=True, arrival=n)
        for t, v, n in ((10, 20.0, 1), (5, 3.0, 2), (20, 21.0, 3))
    )
    lived = remembered([first, late, last])
    assert lived == from_history(WEST, [late, first, last], rounds=[1, 2, 3])
    together = from_history(WEST, [late, first, last], rounds=[2, 3])  # one round saw both, in order of time
    assert (5 * MINUTE, 10 * MINUTE) == together.gaps


def test_the_middle_of_an_even_number_is_the_mean_of_two():
    assert (2.5, 2) == (middle([4, 1, 2, 3]), middle([9, 1, 2]))


def test_a_run_of_good_readings_is_remembered_as_one_by_one():
    heard = every(7 * MINUTE, [20.0 + n / 10 for n in range(40)])
    for begun in (0, 1, 5, 30):
        before = remembered(heard[:begun])
        assert remembered(heard) == remember_run(before, heard[begun:])
