"""Dead mats, stuck relays and lids on beds whose truth is known; and whether what was done worked."""

import itertools
import math
import random

import pytest

from monitor.bed import mats
from monitor.bed.keeping import room_of, watch_of, written
from monitor.bed.mats import Trial, Watch, Worked, answered, forgiven, hours_to_tell, not_needed, watch
from monitor.bed.plan import ALWAYS, NO_MAT, rolled
from monitor.bed.zone import Hour, begun, observe
from monitor.errors import BadValue
from monitor.readings import HOUR

A, B = 0.05, 0.8


def lived(hours, *, seed=1, dead=(), weak=(), stuck=(), lid=(), on=lambda hour: float(hour % 24 < 9)):
    """What a mat's bed does, its log right or wrong; (zone, watch) after each hour."""
    chance = random.Random(seed)
    zone, kept, warmth, read = begun(0, watts=30), Watch(), 16.0, 16.0
    found = []
    for hour in range(1, hours + 1):
        air = 9 + 4 * math.sin(hour / 24 * 2 * math.pi) + chance.uniform(-1, 1)
        log = on(hour)
        real = 0.0 if hour in dead else log / 2 if hour in weak else 1.0 if hour in stuck else log
        a = A * (1.8 if hour in lid else 1)
        settles = air + B * real / a
        warmth = settles + (warmth - settles) * math.exp(-a)
        start, read = read, warmth + chance.gauss(0, 0.07)
        one = Hour(hour * HOUR, start, read, air, log)
        zone = observe(zone, one)
        kept = watch(kept, zone, one)
        found.append((zone, kept))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_mat_that_died_is_found_within_hours_of_being_on(seed):
    dies = 24 * 40 + 1
    told = [kept.mat_dead for _, kept in lived(24 * 42, seed=seed, dead=range(dies, 24 * 42))]
    assert not any(told[: dies - 1])
    assert any(told[dies : dies + 6])


def test_its_death_is_told_to_the_hour_or_two():
    dies = 24 * 40 + 1
    _, kept = lived(24 * 40 + 8, dead=range(dies, 24 * 42))[-1]
    assert kept.mat_dead
    assert abs(kept.since - dies * HOUR) <= 2 * HOUR


@pytest.mark.parametrize(("called", "most"), [("mat_dead", 1), ("mat_weak", 3)])
def test_mats_that_live_are_hardly_ever_called_dead_or_half_dead(called, most):
    alarms = 0
    for seed in range(4):
        told = [getattr(kept, called) for _, kept in lived(24 * 90, seed=100 + seed)]
        alarms += sum(now and not before for before, now in itertools.pairwise(told))
    assert alarms <= most


def test_a_mat_that_is_off_is_never_called_dead():
    told = lived(24 * 60, on=lambda hour: float(hour % 24 < 9 and hour < 24 * 30))
    assert not any(kept.mat_dead for _, kept in told[24 * 30 :])


@pytest.mark.parametrize("seed", range(6))
def test_a_mat_that_is_half_dead_is_found_within_a_day(seed):
    """Now and then it is called dead: between the two it is as far from one as from the other."""
    begins = 24 * 40 + 1
    told = [kept for _, kept in lived(24 * 41 + 9, seed=seed, weak=range(begins, 24 * 42))]
    assert not any(kept.mat_weak for kept in told[: begins - 1])
    assert any(kept.mat_weak for kept in told[begins:])


def test_one_that_is_dead_is_called_dead_and_not_half_dead():
    _, kept = lived(24 * 40 + 9, dead=range(24 * 40 + 1, 24 * 42))[-1]
    assert kept.weak > mats.WEAK
    assert (True, False) == (kept.mat_dead, kept.mat_weak)
    assert 0.0 == forgiven(kept).weak


def test_a_watch_that_was_kept_before_half_dead_mats_were_asked_for_is_read():
    _, kept = lived(24 * 30)[-1]
    text = written(kept)
    assert kept == watch_of(text)
    before = text.replace(f'"weak":{kept.weak!r},', "")
    assert before != text
    assert 0.0 == watch_of(before).weak


def test_a_mat_of_which_nothing_was_learned_is_not_judged():
    told = lived(24 * 5, dead=range(24 * 5), on=lambda hour: 1.0)
    assert not any(kept.mat_dead for _, kept in told[:48])


def test_a_relay_that_is_welded_shut_is_seen_while_it_should_be_off():
    begins = 24 * 40 + 10
    told = [kept.mat_stuck_on for _, kept in lived(24 * 41, stuck=range(begins, 24 * 41))]
    assert not any(told[:begins])
    assert any(told[begins : begins + 6])


def test_an_open_lid_loses_faster():
    begins = 24 * 40 + 2
    told = [kept.losing_heat for _, kept in lived(24 * 41, lid=range(begins, 24 * 41))]
    assert not any(told[:begins])
    assert any(told[begins : begins + 12])


def test_a_silence_decides_nothing_and_a_mat_is_judged_anew_after_it():
    told = lived(24 * 40)
    zone, kept = told[-1]
    late = watch(kept, zone, Hour(kept.newest + 30 * HOUR, 10.0, 8.0, 5.0, 1.0))
    assert kept.dead == late.dead
    blind = watch(kept, zone, Hour(kept.newest + HOUR, None, 8.0, 5.0, 1.0))
    assert kept.dead == blind.dead
    assert () == blind.earlier


def test_what_somebody_looked_at_begins_anew():
    _, kept = lived(24 * 40 + 8, dead=range(24 * 40 + 1, 24 * 42))[-1]
    assert not forgiven(kept).mat_dead
    assert kept.residuals == forgiven(kept).residuals


def test_the_sum_is_a_cusum_of_the_log_likelihood_ratio():
    total = mats._summed(1.0, -0.8, -0.8, 0.4)
    assert pytest.approx(1.0 + 0.8**2 / (2 * 0.4**2)) == total
    assert 0.0 == mats._summed(1.0, 0.8, -0.8, 0.4)


def trial():
    room = [[8.0] * 24]
    off, on = rolled((0.05, 0.6, 0.0), 14.0, room, NO_MAT)[0], rolled((0.05, 0.6, 0.0), 14.0, room, ALWAYS)[0]
    return Trial(0, off, on, 0.12)


def test_a_bed_that_answers_is_told_within_two_hours():
    assert Worked.YES is answered(trial(), 2, trial().with_it.warmth[1])
    assert Worked.NO is answered(trial(), 2, trial().without.warmth[1])


def test_between_the_two_nothing_is_told():
    middle = (trial().with_it.warmth[1] + trial().without.warmth[1]) / 2
    assert Worked.UNSURE is answered(trial(), 2, middle)
    assert Worked.UNSURE is answered(trial(), 0, 14.0)


def test_a_rehearsal_lasts_as_long_as_it_takes_to_tell():
    hours = hours_to_tell(trial())
    assert 1 <= hours <= 4
    assert Worked.YES is answered(trial(), hours, trial().with_it.warmth[hours - 1])
    weak = Trial(0, trial().without, trial().without, 0.12)
    assert hours_to_tell(weak) is None


def test_a_mat_is_not_needed_after_seven_quiet_evenings_all_of_them_known():
    assert not_needed((0.01,) * 7)
    assert not_needed((0.9, *[0.01] * 7))
    assert not not_needed((*[0.01] * 6, 0.2))
    assert not not_needed((0.01,) * 6)
    assert not not_needed((*[0.01] * 6, None))


@pytest.mark.parametrize("hours", [0, 3, 24 * 20])
def test_a_watch_is_written_and_read_to_the_last_bit(hours):
    kept = lived(hours)[-1][1] if hours else Watch()
    assert kept == watch_of(written(kept))
    with pytest.raises(BadValue):
        room_of(written(kept))
