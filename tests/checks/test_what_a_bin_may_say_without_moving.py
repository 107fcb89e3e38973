"""What is said to move nothing moves nothing: each such answer is held against the fold itself, on beds that wander."""

import random
from itertools import count

import pytest

from monitor.checks.fold import bench, fold
from monitor.checks.memory import nothing_of
from monitor.checks.still import Still
from monitor.checks.watches import watch_over
from monitor.readings import DAY, MINUTE, Measures, Reading
from parts import orchard
from parts.pasts import counts

T0 = 1_790_000_000_000


class Wanderer:
    """A bin whose values wander, and two benches of it: one that asks first, one that always folds."""

    def __init__(self, seed, bed):
        self.chance, self.watched = random.Random(seed), watch_over(bed)
        probes = self.watched.probes
        self.asked, self.whole = (
            bench(self.watched, memory={p: nothing_of(probe) for p, probe in probes.items()}, phases={})
            for _ in range(2)
        )
        self.still = None
        self.passed = self.folded = 0
        self.celsius = self.chance.uniform(12, 33)
        self.damp = self.chance.uniform(60, 88)
        self.arrivals = count(1)

    def reading(self, probe, at):
        moist = probe.measures is Measures.MOISTURE
        value = (
            counts(self.damp + self.chance.gauss(0, 0.5)) if moist else self.celsius + self.chance.gauss(0, 0.3)
        )
        return Reading(probe.id, at, value, at, arrival=next(self.arrivals))

    def step(self, at):
        self.celsius += self.chance.gauss(0, 0.15)
        self.damp = min(94.0, max(50.0, self.damp + self.chance.gauss(0, 0.3)))
        if self.chance.random() < 0.002:
            self.damp = min(94.0, self.damp + 15)
        told = [p for p in self.watched.probes.values() if self.chance.random() < 0.4]
        readings = [self.reading(p, at - self.chance.randint(0, 50) * 1000) for p in told]
        if readings:
            self.say(readings)

    def say(self, readings):
        phases, courses = dict(self.whole.phases), dict(self.whole.courses)
        over = fold(self.watched, readings, self.whole)
        if self.still is not None and self.still.passes(readings):
            self.passed += 1
            assert [] == over
            assert phases == self.whole.phases
            assert courses == self.whole.courses
            return
        if self.still is not None:
            self.still.settle()
        fold(self.watched, readings, self.asked)
        self.folded += 1
        self.still = Still(self.watched, self.asked)


@pytest.mark.parametrize("bed", [orchard.FIG, orchard.PLUM, orchard.SLOE], ids=lambda bed: bed.id)
@pytest.mark.parametrize("seed", range(4))
def test_nothing_moves_that_is_said_to_move_nothing(seed, bed):
    life = Wanderer(seed, bed)
    for at in range(T0, T0 + 2 * DAY, 5 * MINUTE):
        if (at // (90 * MINUTE)) % 9 != seed:  # now and then nobody speaks for an hour and a half
            life.step(at)
    assert life.still.settle() == life.whole.memory
    assert life.passed > 100
    assert life.folded > 0


def test_what_was_taken_up_can_be_taken_back():
    life = Wanderer(1, orchard.FIG)
    for at in range(T0, T0 + DAY, 5 * MINUTE):
        life.step(at)
    life.still.settle()
    before = dict(life.asked.memory)
    later = [life.reading(p, T0 + DAY + 1000 + n) for n, p in enumerate(life.watched.probes.values())]
    assert life.still.passes(later[:1]) or life.still.passes(later[1:2])
    life.still.undo()
    assert before == life.still.settle()
