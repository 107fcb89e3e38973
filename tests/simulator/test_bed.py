"""The simulated beds against hand-worked examples. Sources stand beside each; the beds invent nothing of them."""

import math

import psychrolib
import pytest

from monitor.simulator.bed import (
    Air,
    Bed,
    Lump,
    Mat,
    State,
    drying,
    heat_capacity,
    moisture,
    saturation,
    step,
    switched,
    transmittance,
)

HOUR = 3600


def lived(bed, state, air, hours, every=60):
    for _ in range(round(hours * HOUR / every)):
        state = step(bed, state, air, every)
    return state


def lump(tau_hours, capacity=100_000, makes=0.0):
    return Bed((Lump(capacity, capacity / (tau_hours * HOUR), makes),), (), dry=1.0)


def test_one_lump_follows_newtons_law():
    # T(t) = Ta + (T0 − Ta)·exp(−t/τ): 24 °C in 12 °C, τ 10 h, after 5 h 19.278 °C [derived, exponential]
    after = step(lump(10), State((24.0,), 3.0), Air(12.0), 5 * HOUR)
    assert 19.278 == pytest.approx(after.temperatures[0], abs=0.001)


def test_a_bed_that_fell_from_24_to_20_in_three_hours_of_12_degrees_has_a_tau_of_7_4_hours():
    after = step(lump(7.399), State((24.0,), 3.0), Air(12.0), 3 * HOUR)
    assert 20.0 == pytest.approx(after.temperatures[0], abs=0.001)


def test_a_small_body_in_hot_gas_reaches_199_degrees_after_5_2_seconds():
    # Incropera & DeWitt, Example 5.1: τ 1 s, 25 → 199 °C in gas of 200 °C after 5.2 s [memory]
    body, state, seconds = Bed((Lump(1.0, 1.0),), (), dry=1.0), State((25.0,), 3.0), 0.0
    while state.temperatures[0] < 199:
        state, seconds = step(body, state, Air(200.0, 0.0), 0.01), seconds + 0.01
    assert 5.2 == pytest.approx(seconds, abs=0.05)


@pytest.mark.parametrize(
    ("tau", "after_eight_hours"),
    [(3.5, 13.2), (26.6, 20.9)],  # 30 kg at 75 % from 24 °C in a 12 °C room, bare and insulated [derived]
)
def test_thirty_kilograms_cool_as_worked_by_hand(tau, after_eight_hours):
    after = step(lump(tau), State((24.0,), 3.0), Air(12.0), 8 * HOUR)
    assert after_eight_hours == pytest.approx(after.temperatures[0], abs=0.05)


def test_wet_bedding_holds_3_46_kilojoules_a_kilogram_and_kelvin_at_75_per_cent():
    # 0.75·4.186 + 0.25·1.3 = 3.4645 kJ/kgK, so 20 kg by 5 K take 96.24 Wh [derived; dry matter memory]
    assert 3464.5 == pytest.approx(heat_capacity(1, 0.75), abs=0.01)
    assert 96.24 == pytest.approx(heat_capacity(20, 0.75) * 5 / 3600, abs=0.01)


@pytest.mark.parametrize(
    ("layers", "u"),
    [  # one outer film of 0.12 m²K/W (ASHRAE Fundamentals [memory]); k HDPE 0.48, XPS 0.029, softwood 0.12 W/mK
        ([(0.003, 0.48)], 7.921),
        ([(0.003, 0.48), (0.025, 0.029)], 1.0118),
        ([(0.019, 0.12)], 3.59),
        ([(0.018, 0.13)], 3.87),
    ],
)
def test_walls_let_through_what_the_tables_say(layers, u):
    assert u == pytest.approx(transmittance(*layers), abs=0.005)


def test_a_bare_bin_loses_eight_watts_a_kelvin_and_an_insulated_one():
    # 0.6 × 0.4 × 0.3 m, films 0.12 side, 0.11 top, 0.16 bottom: 8.261 and 1.0858 W/K [derived]
    faces = [(0.60, 0.12), (0.24, 0.11), (0.24, 0.16)]
    bare = sum(area * transmittance((0.003, 0.48), film=film) for area, film in faces)
    foamed = sum(area * transmittance((0.003, 0.48), (0.025, 0.029), film=film) for area, film in faces)
    assert 8.261 == pytest.approx(bare, abs=0.01)
    assert 1.0858 == pytest.approx(foamed, abs=0.001)


def test_a_thermostat_cycles_as_the_two_exponentials_say():
    # UA 2 W/K, C 100 kJ/K, 12 °C, 60 W between 22.5 and 23.5 °C: on 43.87 min, off 75.81 min [derived]
    mat = Mat(watts=60, spread=(1.0,), thermostat=(22.5, 23.5))
    bed = Bed((Lump(100_000, 2.0),), (), dry=1.0, mat=mat)
    state, switches = State((22.5,), 3.0), []
    for second in range(0, 40_000, 4):
        after = step(bed, state, Air(12.0), 4)
        if after.mat_on != state.mat_on:
            switches.append((second, after.mat_on))
        state = after
    on, off, on_again = switches[-3:] if switches[-3][1] else switches[-4:-1]
    assert 43.87 == pytest.approx((off[0] - on[0]) / 60, abs=0.2)
    assert 75.81 == pytest.approx((on_again[0] - off[0]) / 60, abs=0.2)


def test_inside_its_band_a_thermostat_leaves_everything_as_it_is():
    bed = Bed((Lump(1e5, 2.0),), (), dry=1.0, mat=Mat(60, (1.0,), (22.5, 23.5)))
    for on in (True, False):
        within = State((23.0,), 3.0, mat_on=on)
        assert within == switched(bed, within)


def test_a_mat_that_gives_what_the_walls_take_holds_the_bed():
    # duty 1.086 W/K · 12 K / 20 W = 0.651, and 8.26 W/K · 12 K / 80 W > 1: cannot hold [derived]
    held = Bed((Lump(1e5, 1.086),), (), 1.0, mat=Mat(20, (1.0,), (23.5, 24.5)))
    weak = Bed((Lump(1e5, 8.26),), (), 1.0, mat=Mat(80, (1.0,), (23.5, 24.5)))
    assert 23.4 < lived(held, State((24.0,), 3.0), Air(12.0), 48).temperatures[0] < 24.6
    assert 12 + 80 / 8.26 == pytest.approx(
        lived(weak, State((24.0,), 3.0), Air(12.0), 48).temperatures[0], abs=0.01
    )


def test_lumps_that_only_touch_each_other_end_at_their_common_mean():
    bed = Bed((Lump(3e4, 0), Lump(6e4, 0), Lump(1e4, 0)), (2.0, 2.0), dry=1.0)
    after = lived(bed, State((30.0, 20.0, 10.0), 3.0), Air(0.0), 400)
    mean = (3 * 30 + 6 * 20 + 1 * 10) / 10
    assert [mean] * 3 == pytest.approx(list(after.temperatures), abs=0.001)


def test_two_lumps_settle_as_a_voltage_divider_does():
    # W in lump 0, all loss through lump 1: T1 = Ta + W/UA, T0 = T1 + W/G
    bed = Bed((Lump(1e4, 0.0, 10.0), Lump(1e4, 2.0)), (4.0,), dry=1.0)
    after = lived(bed, State((12.0, 12.0), 3.0), Air(12.0), 100)
    assert [12 + 5 + 2.5, 12 + 5] == pytest.approx(list(after.temperatures), abs=0.001)


@pytest.mark.parametrize("celsius", [0.01, 5, 10, 15, 20, 25, 30])
def test_saturation_pressure_agrees_with_a_reference_library(celsius):
    # psychrolib uses ASHRAE 2017; Magnus (Alduchov & Eskridge 1996) stays within 0.35 % of it from 0 to 40 °C
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert psychrolib.GetSatVapPres(celsius) / 1000 == pytest.approx(saturation(celsius), rel=0.0035)


def test_water_that_leaves_is_what_the_deficit_says_and_cools_the_bed_by_its_latent_heat():
    # 22 °C bed, 22 °C and 60 % air, 0.24 m², cover 0.2, 1.58 kg/m²day per kPa: 0.080 kg/day [derived]
    wet = Bed((Lump(1e5, 0.0),), (), dry=5.0, surface=0.24, cover=0.2)
    state = State((22.0,), 15.0)
    assert 0.080 == pytest.approx(drying(wet, state, Air(22.0, 60.0)) * 86_400, abs=0.001)
    after = step(wet, state, Air(22.0, 60.0), 60)
    lost = state.water - after.water
    assert lost * 2.45e6 == pytest.approx((22.0 - after.temperatures[0]) * 1e5, rel=1e-6)


def test_a_bed_never_dries_below_no_water_nor_gains_any_from_damp_air():
    bed = Bed((Lump(1e9, 0.0),), (), dry=5.0, surface=50.0)
    assert 0.0 == lived(bed, State((25.0,), 0.5), Air(25.0, 10.0), 24).water
    cold = State((2.0,), 5.0)
    assert cold.water == step(bed, cold, Air(20.0, 90.0), HOUR).water


def test_moisture_is_on_a_wet_basis():
    assert 75.0 == pytest.approx(moisture(Bed((Lump(1, 1),), (), dry=5.0), State((20.0,), 15.0)))


def test_long_steps_give_the_same_as_short_ones():
    bed = Bed((Lump(3e4, 0.4), Lump(2e4, 0.4)), (0.4,), 4.0, 0.4, 0.1, Mat(20, (0.0, 1.0)))
    begun = State((20.0, 22.0), 14.0, mat_on=True)
    long, short = step(bed, begun, Air(3.0), 6 * HOUR), lived(bed, begun, Air(3.0), 6, every=15)
    assert list(short.temperatures) == pytest.approx(list(long.temperatures), abs=1e-3)
    assert math.isclose(short.water, long.water, rel_tol=1e-5)
