"""The truth simulator of the forecast bench against scipy's ODE solver, and against what must come out of any heat balance."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from bench.forecast import rooms, truth

HOURS, COUNT = 24 * 4, 4


@pytest.fixture(scope="module")
def beds():
    return truth.made(np.random.default_rng(5), COUNT, HOURS)


def quiet(beds, **changes):
    none = np.zeros_like(beds.feed)
    still = {
        "feed": none,
        "water": none,
        "lid": none > 0,
        "dead": none > 0,
        "evaporates": np.zeros(COUNT),
        "grows": np.zeros(COUNT),
    }
    return replace(beds, **(still | changes))


def lived(beds, room, forced):
    life, out = truth.begun(beds, room[0]), []
    for hour in range(HOURS):
        out.append(life.step(hour, room[hour * 12 : hour * 12 + 12], forced=forced)[0])
    return np.concatenate(out), life


def slopes(beds, n, room_at, on):
    def at(hours, state):
        near, far, wall, into = state
        room = room_at(hours)
        damp = beds.evaporates[n] * max(0.0, truth.saturated((near + far) / 2) - 0.7 * truth.saturated(room))
        heat = (beds.feed[n, min(HOURS - 1, int(hours))] - damp) / 2
        across = beds.across[n] * (far - near)
        to_wall = beds.near_wall[n] * (wall - near), beds.far_wall[n] * (wall - far)
        outward = beds.wall_room[n] * (1 + beds.grows[n] * abs(wall - room)) * (room - wall)
        return [
            (across + to_wall[0] + into + heat) / beds.near[n],
            (-across + to_wall[1] + heat) / beds.far[n],
            (outward - sum(to_wall)) / beds.wall[n],
            (on * beds.watts[n] * beds.enters[n] - into) / (25 / 60),
        ]

    return at


@pytest.mark.parametrize("on", [False, True])
def test_three_nodes_with_all_that_ails_them_go_as_scipys_solver_has_it(beds, on):
    still = quiet(beds, feed=beds.feed, evaporates=beds.evaporates, grows=beds.grows)
    times = np.arange(1, HOURS * 12 + 1) / 12
    wave = np.stack([6 + 5 * np.sin(2 * np.pi * times / 24 + n) for n in range(COUNT)], axis=1)
    ours, _ = lived(still, wave, np.full(COUNT, on))
    for n in range(COUNT):
        start = [wave[0, n] + 2, wave[0, n] + 2, wave[0, n], 0.0]
        room_at = lambda hours, n=n: 6 + 5 * np.sin(2 * np.pi * hours / 24 + n)  # noqa: E731
        exact = solve_ivp(slopes(still, n, room_at, on), (0, HOURS), start, t_eval=times, rtol=1e-8, max_step=0.5)
        assert np.abs(ours[:, :, n].T - exact.y[:2]).max() < 0.06


def test_a_bed_left_alone_goes_to_its_rooms_temperature_and_with_its_mat_above_it_by_watts_over_loss(beds):
    still = quiet(beds)
    room = np.full((HOURS * 12, COUNT), 5.0)
    warm = np.full((3, COUNT), 30.0)
    for on in (False, True):
        life = truth.Life(still, warm.copy(), np.zeros(COUNT))
        for _ in range(15):
            for hour in range(HOURS):
                life.step(hour, room[:12], forced=np.full(COUNT, on))
        inner = still.near_wall * (life.warmth[0] - life.warmth[2]) + still.far_wall * (
            life.warmth[1] - life.warmth[2]
        )
        assert still.watts * still.enters * on == pytest.approx(inner, abs=0.01)
        assert still.watts * still.enters * on == pytest.approx(still.wall_room * (life.warmth[2] - 5.0), abs=0.01)


def test_a_dead_mat_warms_nothing_while_its_log_says_on(beds):
    dead = quiet(beds, dead=np.ones_like(beds.dead))
    room = np.full((HOURS * 12, COUNT), 5.0)
    life, alone = truth.begun(dead, room[0]), truth.begun(quiet(beds), room[0])
    for hour in range(HOURS):
        _, log = life.step(hour, room[:12], forced=np.ones(COUNT, dtype=bool))
        alone.step(hour, room[:12], forced=np.zeros(COUNT, dtype=bool))
        assert (beds.watts > 0).astype(float).tolist() == log.tolist()
    assert alone.warmth == pytest.approx(life.warmth)


def test_a_bed_of_the_study_holds_its_warmth_for_a_night_and_a_bare_tub_for_hours():
    chance = np.random.default_rng(7)
    usual, bare = truth.made(chance, 200, 24), truth.wide(chance, 200, 24)
    constants = [(some.near + some.far) / some.loss for some in (usual, bare)]
    assert 15 < np.median(constants[0]) < 40
    assert 2 <= constants[1].min() < 3
    assert np.median(constants[1]) < 8
    assert usual.loss.min() >= 0.5 - 1e-9
    assert usual.loss.max() <= 4.0 + 1e-9


def test_a_shed_follows_the_weather_and_a_utility_room_the_house():
    outside = rooms.outdoors("sandpoint")
    assert 8760 == len(outside)
    shed, utility = (
        rooms.lived(rooms.room(kind, outside, np.random.default_rng(3)), outside) for kind in ("shed", "utility")
    )
    assert shed.std() > 2 * utility.std()
    assert utility.mean() > shed.mean() + 5


@pytest.mark.parametrize(("name", "coldest"), [("newark", -11.7), ("sandpoint", -10.6), ("greensboro", -16.7)])
def test_each_series_is_a_whole_year_with_its_own_coldest_hour(name, coldest):
    outside = rooms.outdoors(name)
    assert pytest.approx(coldest, abs=0.06) == outside.min()
    assert np.isfinite(outside).all()
    assert sorted(outside) == pytest.approx(sorted(rooms.shuffled(outside, 1)))
