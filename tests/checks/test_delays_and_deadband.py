"""The condition machine against worked series, and every pair of phase and sight.

Series and expected steps: facts computed by hand with the rules of OPC 10000-9 §B.1.5 (deadband, on-delay,
off-delay) [seen]; chattering as "3 or more times in 1 minute" from a course text on ISA-18.2 [seen-2nd].
"""

from dataclasses import replace

import pytest

from checks.beds import bed, bound, zone
from monitor.checks.delays import CLEAR, FULL, MOVES, Phase, PhaseName, Sight, over_gap, sight, step
from monitor.checks.watches import Watch, watches
from monitor.readings import SECOND, Measures
from monitor.rules import Limits


def watch(*, low: float, deadband: float = 0.0, on: int = 0, off: int = 0) -> Watch:
    limits = Limits(bound(low), None, deadband=deadband, comfort_delay=on * SECOND, off_delay=off * SECOND)
    (only,) = watches(bed(zone("west"), limits={Measures.TEMPERATURE: limits}))
    return only


def changes(rule: Watch, series: list[tuple[int, float]]) -> list[tuple[int, str]]:
    """(second, raised or cleared) of a series of (second, value)."""
    phase, found = CLEAR, []
    for at, value in series:
        after = step(rule, phase, at=at * SECOND, value=value)
        if after.present is not phase.present:
            found.append((at, "raised" if after.present else "cleared"))
        phase = after
    return found


COOLING = [
    (0, 12.0),
    (300, 9.8),
    (600, 9.5),
    (900, 9.4),
    (1200, 10.4),
    (1500, 10.9),
    (1800, 11.2),
    (2100, 11.3),
    (2400, 10.5),
]


def test_with_delays_and_deadband_it_is_raised_late_and_cleared_late():
    rule = watch(low=10, deadband=1, on=600, off=300)
    assert [(900, "raised"), (2100, "cleared")] == changes(rule, COOLING)


def test_without_them_it_is_raised_and_cleared_at_once():
    assert [(300, "raised"), (1200, "cleared")] == changes(watch(low=10), COOLING)


TREMBLING = [(10 * n, 9.9 if n % 2 else 10.1) for n in range(7)]


@pytest.mark.parametrize(
    ("rule", "raises"),
    [
        (watch(low=10), 3),  # three in sixty seconds: chattering
        (watch(low=10, deadband=0.5), 1),
        (watch(low=10, on=30), 0),
    ],
    ids=["undamped", "deadband", "on-delay"],
)
def test_a_trembling_value_is_damped_by_either(rule: Watch, raises: int):
    assert raises == [what for _, what in changes(rule, TREMBLING)].count("raised")


@pytest.mark.parametrize(
    ("below", "value", "expected"),
    [
        # WHO PQS E006/TR07: the threshold itself is inside the alarm range: 30.0 triggers, 29.9 does not [seen]
        (False, 30.0, Sight.BEYOND),
        (False, 29.9, Sight.BETWEEN),
        (False, 29.0, Sight.INSIDE),
        (True, 30.0, Sight.BEYOND),
        (True, 30.1, Sight.BETWEEN),
        (True, 31.0, Sight.INSIDE),
    ],
)
def test_the_number_itself_counts_on_both_ends(below: bool, value: float, expected: Sight):
    rule = replace(watch(low=30, deadband=1), below=below, clear_at=31.0 if below else 29.0)
    assert expected is sight(rule, value)


def test_an_off_delay_is_only_full_of_time_past_the_deadband():
    """ISA-18.2 as taught: "returned to normal (past deadband, for the off-delay)" [seen-2nd]."""
    rule = watch(low=10, deadband=1, off=300)
    series = [(0, 9.0), (100, 11.0), (300, 10.5), (400, 11.0), (699, 11.0), (700, 11.0)]
    assert [(0, "raised"), (700, "cleared")] == changes(rule, series)


SIGHTS = {Sight.BEYOND: 9.0, Sight.BETWEEN: 10.5, Sight.INSIDE: 12.0}
STANDING = {
    PhaseName.CLEAR: CLEAR,
    PhaseName.PENDING: Phase(PhaseName.PENDING, 7, 7),
    PhaseName.PRESENT: Phase(PhaseName.PRESENT, 7, 3),
    PhaseName.CLEARING: Phase(PhaseName.CLEARING, 7, 3),
}


@pytest.mark.parametrize("name", PhaseName)
@pytest.mark.parametrize("seen", SIGHTS)
def test_every_pair_moves_as_the_table_says_while_no_delay_is_full(name: PhaseName, seen: Sight):
    rule = watch(low=10, deadband=1, on=600, off=300)
    before = STANDING[name]
    after = step(rule, before, at=8, value=SIGHTS[seen])
    assert MOVES.get((name, seen), name) is after.name
    if (name, seen) not in MOVES:
        assert before is after


@pytest.mark.parametrize("name", PhaseName)
def test_a_gap_moves_every_phase_as_the_table_says(name: PhaseName):
    before = STANDING[name]
    after = over_gap(before, 8)
    assert MOVES.get((name, Sight.GAP), name) is after.name
    if (name, Sight.GAP) not in MOVES:
        assert before is after


@pytest.mark.parametrize(("name", "seen"), [(PhaseName.PENDING, Sight.BEYOND), (PhaseName.CLEARING, Sight.INSIDE)])
def test_a_full_delay_ends_a_waiting_phase_and_not_a_moment_before(name: PhaseName, seen: Sight):
    rule = watch(low=10, deadband=1, on=600, off=600)
    before = STANDING[name]
    assert name is step(rule, before, at=7 + 600 * SECOND - 1, value=SIGHTS[seen]).name
    assert FULL[name] is step(rule, before, at=7 + 600 * SECOND, value=SIGHTS[seen]).name


def test_a_phase_knows_when_the_limit_was_first_broken():
    rule = watch(low=10, deadband=1, on=600, off=300)
    phase = CLEAR
    for at, value in COOLING[:4]:
        phase = step(rule, phase, at=at * SECOND, value=value)
    assert Phase(PhaseName.PRESENT, 900 * SECOND, 300 * SECOND) == phase
    phase = step(rule, phase, at=1800 * SECOND, value=11.2)
    assert Phase(PhaseName.CLEARING, 1800 * SECOND, 300 * SECOND) == phase


@pytest.mark.parametrize("seen", SIGHTS)
@pytest.mark.parametrize("name", PhaseName)
def test_a_phase_read_back_from_a_store_moves_like_the_one_that_was_written(name: PhaseName, seen: Sight):
    rule = watch(low=10, deadband=1, on=600, off=300)
    before = STANDING[name]
    plain = Phase(name.value, before.since, before.began)  # type: ignore[arg-type]
    for at in (8, 10**9):
        assert step(rule, before, at=at, value=SIGHTS[seen]) == step(rule, plain, at=at, value=SIGHTS[seen])
    assert before.present is plain.present
