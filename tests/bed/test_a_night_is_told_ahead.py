"""From what a zone has learned to what is told of the hours ahead: roll-out, room, dressing, crossing."""

import math
import random
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import norm

from monitor.bed import dressing as dressed
from monitor.bed.dressing import Dress, Dressing
from monitor.bed.forecast import Dressed, Learned, forecast, took
from monitor.bed.keeping import learned_of, room_of, written
from monitor.bed.plan import ALWAYS, NO_MAT, as_now, held, rolled, switched, timed
from monitor.bed.room import AHEAD, Air, Room, ahead, heard, through_walls
from monitor.bed.zone import Hour, begun, observe
from monitor.errors import BadValue
from monitor.readings import HOUR


def solved(a, b, c, start, room, duties):
    """°C after each hour, by scipy, hour by hour, where air and duty are constant."""
    warmth, found = start, []
    for air, duty in zip(room, duties, strict=True):
        way = solve_ivp(
            lambda _, t, air=air, duty=duty: a * (air - t) + b * duty + c, (0, 1), [warmth], rtol=1e-10, atol=1e-12
        )
        warmth = way.y[0, -1]
        found.append(warmth)
    return found


@pytest.mark.parametrize("a", [0.006, 0.04, 0.3, 0.7])
def test_a_roll_out_is_what_an_ode_solver_says(a):
    room = [10 + 4 * math.sin(h) for h in range(AHEAD)]
    plan = switched(5, for_hours=9)
    path = rolled((a, 0.8, 0.05), 21.0, [room], plan)[0]
    assert pytest.approx(solved(a, 0.8, 0.05, 21.0, room, plan.duties[0]), abs=1e-7) == list(path.warmth)


def test_a_thermostat_gives_as_much_as_holds_it_and_no_more():
    path = rolled((0.05, 0.9, 0.0), 20.0, [[5.0] * AHEAD], held(18.0))[0]
    assert pytest.approx(18.0) == path.warmth[-1]
    assert pytest.approx(0.05 * 13 / 0.9) == path.duties[-1]
    weak = rolled((0.05, 0.2, 0.0), 20.0, [[5.0] * AHEAD], held(18.0))[0]
    assert 1.0 == weak.duties[-1]
    assert weak.warmth[-1] < 18


def test_a_timer_knows_midnight_and_half_hours():
    duties = timed(22.5, 8, local_hour=20).duties[0]
    assert [0.0, 0.0, 0.5, *[1.0] * 7, 0.5, 0.0] == list(duties[:12])
    assert pytest.approx(8.0) == sum(duties)


def swinging(days, seed=1):
    chance = random.Random(seed)
    room = Room()
    for hour in range(1, days * 24 + 1):
        air = 10 - 4 * math.cos(hour / 24 * 2 * math.pi) + chance.gauss(0, 0.1)
        room = heard(room, hour * HOUR, air)
    return room


def test_a_young_room_stays_as_it_is():
    source, members = ahead(swinging(4))
    assert Air.AS_NOW is source
    assert 1 == len(members)
    assert 1 == len(set(members[0]))


def test_an_old_room_goes_on_as_its_days_did():
    source, members = ahead(swinging(20))
    assert Air.ALIKE is source
    assert 12 == len(members)
    middle = np.mean(members, axis=0)
    assert pytest.approx([10 - 4 * math.cos(h / 24 * 2 * math.pi) for h in range(1, 25)], abs=0.5) == list(middle)


def test_a_long_gap_is_never_part_of_a_day_that_was_alike():
    room = swinging(20)
    gone = replace(room, past=tuple(None if 100 <= n < 106 else air for n, air in enumerate(room.past)))
    _, members = ahead(gone)
    assert all(math.isfinite(air) for member in members for air in member)


def test_an_air_unknown_for_hours_makes_no_forecast():
    room = heard(swinging(20), (20 * 24 + 5) * HOUR, None)
    assert [] == ahead(room)[1]
    told, _ = forecast(Learned(begun(0)), room, at=room.newest, now_c=15.0)
    assert told is None


def test_walls_are_learned_and_carry_an_outdoor_forecast():
    room, warmth, chance = Room(), 8.0, random.Random(2)
    outdoors = [4 + 6 * math.sin(h / 24 * 2 * math.pi) + 3 * math.sin(h / 70) for h in range(24 * 40 + 25)]
    for hour in range(1, 24 * 40 + 1):
        before = warmth
        settles = (0.15 * outdoors[hour - 1] + 0.05 * 18) / 0.2
        warmth = settles + (warmth - settles) * math.exp(-0.2)
        room = heard(room, hour * HOUR, warmth + chance.gauss(0, 0.02), outdoors=outdoors[hour - 1])
        assert abs(before - warmth) < 3
    expected, now = [], warmth
    for outside in outdoors[24 * 40 : 24 * 40 + 24]:
        settles = (0.15 * outside + 0.05 * 18) / 0.2
        now = settles + (now - settles) * math.exp(-0.2)
        expected.append(now)
    assert pytest.approx(expected, abs=0.3) == through_walls(room, outdoors[24 * 40 : 24 * 40 + 24])


def test_walls_that_were_never_seen_carry_nothing():
    assert through_walls(swinging(20), [3.0] * 24) is None


@cache
def bed(days, *, seed=3, limits=(9.0, 25.0), outdoor=False):
    """A bed lived through; (what was told each hour, what was kept, room, minima by hour)."""
    chance = random.Random(seed)
    learned, room, warmth, said = Learned(begun(0)), Room(), 12.0, []
    lowest = None
    swing = 0.0
    for hour in range(1, days * 24 + 1):
        swing = 0.95 * swing + chance.gauss(0, 0.5)
        outside = 8 - 4 * math.cos(hour / 24 * 2 * math.pi) + swing
        start = warmth
        warmth = outside + (warmth - outside) * math.exp(-0.06)
        at = hour * HOUR
        room = heard(room, at, outside, outdoors=outside if outdoor else None)
        learned = took(learned, Hour(at, start, warmth, outside, None, lowest, lowest))
        told, learned = forecast(
            learned, room, at=at, now_c=warmth, limits=limits, outdoor=[outside] * 24 if outdoor else None
        )
        lowest = min(start, warmth)
        said.append((told, lowest))
    return said, learned, room


def test_a_first_week_has_a_wide_band_and_may_not_alarm():
    said, _, _ = bed(20)
    young, old = said[48][0], said[-1][0]
    assert Dressed.PRIOR is young.dressed
    assert not young.may_alarm
    assert Dressed.OWN is old.dressed
    assert young.least[1].high - young.least[1].low > 1.5 * (old.least[1].high - old.least[1].low)


def test_where_the_air_comes_from_and_what_dresses_switch_each_by_itself():
    said, _, _ = bed(20)
    kinds = {(told.air, told.dressed) for told, _ in said}
    assert (Air.AS_NOW, Dressed.PRIOR) in kinds
    assert (Air.ALIKE, Dressed.OWN) in kinds
    assert len(kinds) >= 3


def test_nine_in_ten_of_what_comes_lies_in_the_band():
    said, _, _ = bed(80)
    hits = total = 0
    for hour in range(24 * 30, len(said) - 12):
        side = said[hour][0].least[0]
        came = min(low for _, low in said[hour + 1 : hour + 13])
        hits += side.low <= came <= side.high
        total += 1
    assert pytest.approx(0.90, abs=0.04) == hits / total


def test_adaptive_bands_cover_nine_in_ten_whatever_the_errors_do():
    """A series with known truth whose spread triples halfway: the share of misses still goes to 10 %."""
    chance = np.random.default_rng(5)
    alpha, misses = dressed.WIDE, []
    errors = list(chance.normal(0, 1, 100))
    for step in range(6000):
        low, high = dressed.band(0.0, errors[-100:], alpha)
        came = chance.normal(0, 1 if step < 3000 else 3)
        misses.append(not low <= came <= high)
        alpha = dressed.adapted(alpha, misses[-1])
        errors.append(came)
    assert pytest.approx(0.10, abs=0.01) == np.mean(misses)
    assert pytest.approx(0.10, abs=0.015) == np.mean(misses[3000:])


def test_a_chance_is_the_normal_mixture_of_its_errors():
    errors = [-0.4, -0.1, 0.0, 0.2, 0.7]
    expected = np.mean(norm.cdf((9.8 - 10 - np.array(errors)) / dressed.KERNEL))
    assert pytest.approx(expected, abs=1e-6) == dressed.chance_below(10.0, errors, 9.8)


@pytest.mark.parametrize("share", [0.05, 0.1, 0.5, 0.9, 0.95])
def test_quantiles_are_those_of_weibulls_places(share):
    values = sorted(random.Random(1).gauss(0, 1) for _ in range(100))
    assert pytest.approx(np.quantile(values, share, method="weibull")) == dressed.quantile(values, share)


def test_an_issue_is_judged_when_its_window_is_over_and_not_before():
    dressing = dressed.passed(Dressing(dresses=(Dress(12, True),)), HOUR, None)
    dressing = dressed.issued(dressing, [(10.0, 9.0, 11.0, 10.0, *[10.0] * 3, 1.0, *[0.0] * 4)])
    for hour in range(2, 14):
        dressing = dressed.passed(dressing, hour * HOUR, (9.5 + hour / 10, 20.0))
        assert () == dressing.dresses[0].errors
    dressing = dressed.passed(dressing, 14 * HOUR, (9.4, 20.0))
    assert pytest.approx((-0.6,)) == dressing.dresses[0].errors
    assert dressing.dresses[0].alpha > dressed.WIDE


def test_the_window_begins_after_the_issue():
    """The first ends that come are of the hour before `passed`: the issue's own hour, which is not part of its window."""
    dressing = dressed.passed(Dressing(dresses=(Dress(12, True),)), HOUR, None)
    dressing = dressed.issued(dressing, [(10.0, None, None, 10.0, *[10.0] * 3, 1.0, *[0.0] * 4)])
    dressing = dressed.passed(dressing, 2 * HOUR, (-50.0, 20.0))
    for hour in range(3, 15):
        dressing = dressed.passed(dressing, hour * HOUR, (9.5, 20.0))
    assert pytest.approx((-0.5,)) == dressing.dresses[0].errors


def test_a_silence_makes_no_errors():
    _, learned, _ = bed(15)
    errors = len([e for e in learned.past.dresses[0].errors if e is not None])
    late = dressed.passed(learned.past, learned.past.newest + 40 * HOUR, None)
    after = len([e for e in late.dresses[0].errors if e is not None])
    assert errors <= after <= errors + 12 - int(dressed.PRESENT * 12)


def test_a_cold_night_has_its_hour():
    said, learned, room = bed(40)
    at, now = said[-1][0].at, said[-1][0].now
    told, _ = forecast(learned, room, at=at, now_c=now, limits=(now - 0.3, now + 0.3))
    low = told.least[1]
    assert low.chance > 0.5 or told.greatest[1].chance > 0.5
    crossing = told.below if low.chance > 0.5 else told.above
    assert at < crossing.likely <= at + 24 * HOUR
    assert crossing.early <= crossing.likely


def test_what_is_far_away_is_not_told_an_hour():
    said, _, _ = bed(20, limits=(-20.0, 60.0))
    told = said[-1][0]
    assert told.below is None
    assert told.above is None
    assert told.least[1].chance < 1e-6
    assert told.greatest[1].chance < 1e-6


def test_an_outdoor_forecast_that_is_lost_falls_back_and_says_so():
    said, learned, room = bed(30, outdoor=True)
    told = said[-1][0]
    assert Air.OUTDOORS is told.air
    assert not told.fell_back
    lost, _ = forecast(learned, room, at=told.at, now_c=told.now)
    assert Air.ALIKE is lost.air
    assert Dressed.OWN is lost.dressed
    short, _ = forecast(learned, room, at=told.at, now_c=told.now, outdoor=[1.0] * 5)
    assert short.fell_back


def test_asking_twice_in_an_hour_notes_what_is_asked_once():
    said, learned, room = bed(10)
    told, again = forecast(learned, room, at=said[-1][0].at, now_c=said[-1][0].now, limits=(9.0, 25.0))
    assert learned == again
    assert said[-1][0] == told


def test_a_mat_that_is_on_is_warmer_than_one_that_is_off():
    on = rolled((0.05, 0.5, 0.0), 15.0, [[5.0] * 24], ALWAYS)[0].warmth
    half = rolled((0.05, 0.5, 0.0), 15.0, [[5.0] * 24], as_now(0.5))[0].warmth
    off = rolled((0.05, 0.5, 0.0), 15.0, [[5.0] * 24], NO_MAT)[0].warmth
    assert all(h > m > low for h, m, low in zip(on, half, off, strict=True))


def test_what_was_learned_is_written_and_read_to_the_last_bit():
    _, learned, room = bed(30, outdoor=True)
    assert learned == learned_of(written(learned))
    assert room == room_of(written(room))


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "null", '{"kind":"room","version":1}', '{"kind":"learned","version":9}']
)
def test_what_is_no_such_thing_is_refused(text):
    with pytest.raises(BadValue):
        learned_of(text)
    with pytest.raises(BadValue):
        room_of(text)


def test_the_prior_places_are_those_of_the_normal_distribution():
    from monitor.bed.forecast import _SCORES

    places = [(n - 0.5) / 39 for n in range(1, 40)]
    assert pytest.approx(norm.ppf(places), abs=0.02) == list(_SCORES)


def test_a_thermostat_holds_what_it_was_seen_to_hold():
    """Its own probe lies elsewhere: set to 18 °C, it holds 16.5 °C where ours lies."""
    zone = begun(0, watts=30)
    for hour in range(1, 60):
        zone = observe(zone, Hour(hour * HOUR, 16.4, 16.6, 8.0, 0.4))
    room = Room(59 * HOUR, (8.0,))
    told, _ = forecast(Learned(zone), room, at=59 * HOUR, now_c=16.5, plan=held(18.0))
    assert pytest.approx(16.5, abs=0.01) == told.paths[0].warmth[-1]
    far_off, _ = forecast(Learned(zone), room, at=59 * HOUR, now_c=16.5, plan=held(25.0))
    assert far_off.paths[0].warmth[-1] > 17


def test_what_is_told_is_set_right_by_its_own_errors_and_its_record_is_not():
    said, _, _ = bed(30)
    old = said[-1][0].least[0]
    assert old.low < old.point < old.high
    assert old.point != old.rolled
    young = said[10][0].least[0]
    assert young.point == young.rolled


def test_an_alarm_looks_ahead_for_its_own_hours():
    said, _, _ = bed(30)
    for one in (told for told, _ in said[-48:]):
        cold, warm = one.alarm
        assert dressed.ALARM == cold.hours == warm.hours
        assert one.least[1].rolled <= cold.rolled <= one.least[0].rolled
        assert one.greatest[0].rolled <= warm.rolled <= one.greatest[1].rolled


def test_the_fan_widens_with_the_root_of_time():
    told = bed(30)[0][-1][0]
    low, _, high = zip(*told.fan, strict=True)
    assert AHEAD == len(told.fan)
    assert pytest.approx(math.sqrt(24 / 6)) == (high[23] - low[23]) / (high[5] - low[5])


def test_a_gap_of_some_hours_in_the_last_day_still_finds_days_alike():
    room = swinging(30)
    gone = replace(room, past=(*room.past[:-12], *[None] * 8, *room.past[-4:]))
    longer = replace(room, past=(*room.past[:-22], *[None] * 18, *room.past[-4:]))
    assert Air.ALIKE is ahead(gone)[0]
    assert Air.ALIKE is ahead(longer)[0]
    blind = replace(room, past=(*room.past[:-29], *[None] * 28, room.past[-1]))
    assert Air.AS_NOW is ahead(blind)[0]
