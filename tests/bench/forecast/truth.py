"""The beds as they are in truth: three nodes (bedding on the mat's side, far bedding, wall and lid), five minutes a step.

None of this is in any forecaster: the wall, a loss that grows with the difference, evaporation, the heat of feed, cold
water, a lid left open, a mat that is dead while its log says on. All beds of a run are stepped at once, one column each.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from bench.forecast import rooms
from bench.forecast.rooms import STEPS

STEP_H = 1 / STEPS
BEDDING = 3.3 / 3.6
"""Wh/(kg·K) of moist bedding: about three quarters of its mass is water at 4.18 kJ/(kg·K)."""
MODES = ("none", "thermostat", "keeper", "timer")


@dataclass(frozen=True)
class Beds:
    """What N beds are made of; every field (N,), or (N, hours) where it says so. K, W, Wh."""

    mass: np.ndarray
    near: np.ndarray
    """Heat capacity, Wh/K, on the mat's side."""
    far: np.ndarray
    wall: np.ndarray
    across: np.ndarray
    """W/K between the two sides."""
    near_wall: np.ndarray
    far_wall: np.ndarray
    wall_room: np.ndarray
    grows: np.ndarray
    """More loss a K of difference between wall and room."""
    evaporates: np.ndarray
    """W/hPa."""
    watts: np.ndarray
    """Of the mat, as printed on it; 0 without one."""
    enters: np.ndarray
    """Share of the watts that gets into the bed."""
    mode: np.ndarray
    setpoint: np.ndarray
    looks: np.ndarray
    """The hour of the day at which a keeper looks, or a timer switches on."""
    span: np.ndarray
    """Hours a timer stays on."""
    feed: np.ndarray
    """(N, hours) W."""
    water: np.ndarray
    """(N, hours) K·share: what cold water takes from the difference to it, 0 to 1."""
    tap: np.ndarray
    lid: np.ndarray
    """(N, hours) bool, open."""
    dead: np.ndarray
    """(N, hours) bool: the mat does not heat, whatever its log says."""
    weak: np.ndarray
    """(N, hours) bool: it gives half of its watts."""

    @property
    def loss(self) -> np.ndarray:
        """W/K of the whole bed, small differences, lid shut."""
        inner = self.near_wall + self.far_wall
        return inner * self.wall_room / (inner + self.wall_room)


def spans(chance: np.random.Generator, hours: int, *, a_year: float, long: tuple[float, float]) -> np.ndarray:
    """(hours,) bool: some stretches at random."""
    whole = np.zeros(hours, dtype=bool)
    for _ in range(chance.poisson(a_year * hours / 8760)):
        begins = int(chance.uniform(0, hours))
        whole[begins : begins + max(1, round(chance.uniform(*long)))] = True
    return whole


def fed(chance: np.random.Generator, hours: int, mean: float) -> np.ndarray:
    """(hours,) W: gamma-shaped pulses over days, one every three to five days."""
    age = np.arange(24 * 14) / 24
    shape = age * np.exp(-age / chance.uniform(0.8, 1.6))
    shape /= shape.sum()
    power = np.zeros(hours + len(shape))
    at = -24.0 * 10
    while at < hours:
        pulse = mean * 96 * chance.uniform(0.5, 1.5) * shape
        begins = int(at)
        power[max(0, begins) : begins + len(shape)] += pulse[max(0, -begins) :][: len(power) - max(0, begins)]
        at += 24 * chance.uniform(3, 5)
    return power[:hours]


def watered(chance: np.random.Generator, hours: int) -> np.ndarray:
    """(hours,) the share of a bed's heat capacity that is replaced by cold water."""
    share = np.zeros(hours)
    at = 24 * chance.uniform(3, 20)
    while at < hours:
        share[int(at // 24 * 24 + chance.integers(8, 20)) % hours] = chance.uniform(0.01, 0.05)
        at += 24 * chance.uniform(10, 20)
    return share


def made(chance: np.random.Generator, count: int, hours: int) -> Beds:
    """`count` beds of part B: 10 to 150 kg, 0.5 to 4 W/K, mats of 10 to 60 W, every mode alike often."""
    mass = np.exp(chance.uniform(np.log(12), np.log(150), count))
    loss = np.clip(0.24 * mass**0.55 * chance.lognormal(0, 0.2, count), 0.5, 4.0)
    return _built(chance, hours, mass, loss)


def wide(chance: np.random.Generator, count: int, hours: int) -> Beds:
    """Bare tubs of 20 and 50 L and damp fabric bags: time constants from 2 to about 9 h."""
    litres = np.array([20.0, 50.0, 30.0])[np.arange(count) % 3]
    mass = litres * 0.55 * chance.uniform(0.5, 1.0, count)
    hours_of = np.array([(3.0, 7.0), (5.0, 9.0), (2.0, 5.0)])[np.arange(count) % 3]
    loss = mass * BEDDING / chance.uniform(hours_of[:, 0], hours_of[:, 1])
    return _built(chance, hours, mass, loss)


def _built(chance: np.random.Generator, hours: int, mass: np.ndarray, loss: np.ndarray) -> Beds:
    count = len(mass)

    def between(low: float, high: float) -> np.ndarray:
        return chance.uniform(low, high, count)

    near_share, capacity = between(0.35, 0.6), mass * BEDDING
    inner = loss * between(2.5, 4.0)
    side = np.clip(near_share + between(-0.1, 0.1), 0.25, 0.75)
    enters = between(0.55, 0.85)
    mode = np.array(MODES)[chance.permutation(np.arange(count) % len(MODES))]
    watts = np.where(mode == "none", 0.0, np.clip(loss * between(7, 15) / enters, 10, 60))
    surface = (mass / 40) ** (2 / 3)
    return Beds(
        mass=mass,
        near=capacity * near_share,
        far=capacity * (1 - near_share),
        wall=np.maximum(0.4, mass * between(0.1, 0.25) * 1.5 / 3.6),
        across=loss * between(0.5, 2.5),
        near_wall=inner * side,
        far_wall=inner * (1 - side),
        wall_room=loss * inner / (inner - loss),
        grows=between(0.005, 0.02),
        evaporates=surface * between(0.1, 0.35),
        watts=watts,
        enters=enters,
        mode=mode,
        setpoint=between(15, 19),
        looks=chance.integers(17, 22, count),
        span=chance.integers(8, 14, count),
        feed=np.array([fed(chance, hours, rise * loss[n]) for n, rise in enumerate(between(0.5, 3.0))]),
        water=np.array([watered(chance, hours) for _ in range(count)]),
        tap=between(8, 14),
        lid=np.array([spans(chance, hours, a_year=8, long=(6, 24)) for _ in range(count)]),
        dead=np.array([spans(chance, hours, a_year=5, long=(24, 72)) & (watts[n] > 0) for n in range(count)]),
        weak=np.zeros((count, hours), dtype=bool),
    )


def saturated(celsius: np.ndarray) -> np.ndarray:
    """hPa, Magnus (Sonntag 1990) [memory]."""
    return 6.112 * np.exp(17.62 * celsius / (243.12 + celsius))


@dataclass
class Life:
    """The beds being lived through. `step` takes one hour; who holds the mats is handed in."""

    beds: Beds
    warmth: np.ndarray
    """(3, N) °C: near, far, wall."""
    into: np.ndarray
    """(N,) W that come out of the mats now, after their lag."""
    wanted: np.ndarray = field(init=False)
    """(N,) bool: what the mats' own switches say."""

    def __post_init__(self) -> None:
        self.wanted = np.zeros(len(self.beds.mass), dtype=bool)
        beds = self.beds
        self._near = beds.near / STEP_H + beds.across + beds.near_wall
        self._far = beds.far / STEP_H + beds.across + beds.far_wall
        whole = self._near * self._far - beds.across**2
        self._inverse = (self._far / whole, beds.across / whole, self._near / whole)
        self._reply_near = self._inverse[0] * beds.near_wall + self._inverse[1] * beds.far_wall
        self._reply_far = self._inverse[1] * beds.near_wall + self._inverse[2] * beds.far_wall
        self._stiff = (
            beds.wall / STEP_H + beds.near_wall * (1 - self._reply_near) + beds.far_wall * (1 - self._reply_far)
        )

    def switch(self, hour: int) -> None:
        """What keepers and timers do at the full hour."""
        beds, of_day = self.beds, hour % 24
        near = self.warmth[0]
        looks = (beds.mode == "keeper") & (beds.looks == of_day)
        self.wanted = np.where(looks & (near < beds.setpoint - 1), True, self.wanted)
        self.wanted = np.where(looks & (near > beds.setpoint + 2), False, self.wanted)
        timer = beds.mode == "timer"
        self.wanted = np.where(timer, (of_day - beds.looks) % 24 < beds.span, self.wanted)

    def step(
        self, hour: int, room: np.ndarray, *, forced: np.ndarray | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """One hour in rooms (STEPS, N) °C: ((STEPS, 2, N) °C of both sides, (N,) share of the hour on by the log).

        `forced` (N,) bool holds every mat in place of its own switch.
        """
        beds = self.beds
        if forced is None:
            self.switch(hour)
        else:
            self.wanted = forced
        lost = beds.water[:, hour]
        self.warmth[:2] -= lost * (self.warmth[:2] - beds.tap)
        lid = beds.lid[:, hour]
        on_for = np.zeros(len(beds.mass))
        out = np.empty((STEPS, 2, len(beds.mass)))
        for step in range(STEPS):
            on = self._on(forced is None)
            on_for += on
            working = np.where(on & ~beds.dead[:, hour], beds.watts * beds.enters, 0.0)
            working = np.where(beds.weak[:, hour], working / 2, working)
            self.into += (working - self.into) * (1 - np.exp(-5 / 25))
            self._advance(room[step], beds.feed[:, hour], lid)
            out[step] = self.warmth[:2]
        return out, on_for / STEPS

    def _on(self, by_itself: bool) -> np.ndarray:
        if by_itself:
            thermostat = self.beds.mode == "thermostat"
            colder = self.warmth[0] < self.beds.setpoint - 0.5
            warmer = self.warmth[0] > self.beds.setpoint + 0.5
            self.wanted = np.where(thermostat & colder, True, np.where(thermostat & warmer, False, self.wanted))
        return self.wanted & (self.beds.watts > 0)

    def _advance(self, room: np.ndarray, feed: np.ndarray, lid: np.ndarray) -> None:
        """Backward Euler of the three nodes; evaporation and the wall's growing loss are taken from where they stand."""
        beds, (near, far, wall) = self.beds, self.warmth
        damp = (
            np.maximum(0.0, saturated((near + far) / 2) - 0.7 * saturated(room))
            * beds.evaporates
            * np.where(lid, 5, 1)
        )
        outward = beds.wall_room * (1 + beds.grows * np.abs(wall - room)) * np.where(lid, 2, 1)
        heat_near = beds.near / STEP_H * near + self.into + (feed - damp) / 2
        heat_far = beds.far / STEP_H * far + (feed - damp) / 2
        alone_near = self._inverse[0] * heat_near + self._inverse[1] * heat_far
        alone_far = self._inverse[1] * heat_near + self._inverse[2] * heat_far
        pushed = (
            beds.wall / STEP_H * wall + outward * room + beds.near_wall * alone_near + beds.far_wall * alone_far
        )
        walled = pushed / (self._stiff + outward)
        self.warmth = np.stack(
            (alone_near + self._reply_near * walled, alone_far + self._reply_far * walled, walled)
        )


def begun(beds: Beds, room: np.ndarray) -> Life:
    """A life that has stood in its room for a while: two kelvin above it, the wall as the room is."""
    start = np.stack((room + 2.0, room + 2.0, room))
    return Life(beds, start, np.zeros(len(room)))


@dataclass(frozen=True)
class Year:
    """What was lived: truth four times an hour, what the log says once."""

    beds: Beds
    near_far: np.ndarray
    """(hours · 4, 2, N) °C, on the quarter hours."""
    room: np.ndarray
    """(hours · 4, N) °C."""
    duty: np.ndarray
    """(hours, N) share of each hour on, as the log says."""
    outside: np.ndarray
    """(hours, N) °C."""


def place(outside: np.ndarray, count: int, chance: np.random.Generator) -> np.ndarray:
    """(hours · STEPS, count) °C of `count` rooms, shed, garage, utility room in turn."""
    kinds = [rooms.KINDS[n % 3] for n in range(count)]
    return np.stack([rooms.lived(rooms.room(kind, outside, chance), outside) for kind in kinds], axis=1)


def live(beds: Beds, room: np.ndarray, outside: np.ndarray) -> Year:
    """A whole run: room (hours · STEPS, N), outside (hours, N)."""
    hours, count = outside.shape
    life = begun(beds, room[:STEPS].mean(axis=0))
    sides, duty = np.empty((hours * 4, 2, count)), np.empty((hours, count))
    for hour in range(hours):
        out, duty[hour] = life.step(hour, room[hour * STEPS : (hour + 1) * STEPS])
        sides[hour * 4 : hour * 4 + 4] = out[2::3]
    return Year(beds, sides, room[2::3], duty, outside)
