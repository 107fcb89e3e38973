"""Of several limits that a squeezed handful lies beyond, the furthest is the one that is told."""

import pytest

from monitor.checks.squeezes import _met
from monitor.rules import Bound, Harm, Level, Limits
from monitor.science.squeeze import Band


def bound(value):
    return Bound(value, "here", "ours")


DRY = Limits(bound(65.0), bound(85.0), harm=(
    Harm(below=True, bound=bound(50.0), lasting=0), Harm(below=True, bound=bound(40.0), lasting=0),
    Harm(below=False, bound=bound(88.0), lasting=0), Harm(below=False, bound=bound(92.0), lasting=0),
))  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "below", "met"),
    [
        (30, 38, True, (Level.HARM, 40.0)),
        (42, 48, True, (Level.HARM, 50.0)),
        (52, 60, True, (Level.COMFORT, 65.0)),
        (60, 70, True, None),  # the band reaches inside
        (93, 97, False, (Level.HARM, 92.0)),
        (89, 91, False, (Level.HARM, 88.0)),
        (86, 87, False, (Level.COMFORT, 85.0)),
        (84, 90, False, None),
    ],
)
def test_the_furthest_of_those_that_the_whole_band_lies_beyond(low, high, below, met):
    found = _met(DRY, Band(low, high, "here", "ours"), below=below)
    assert met == (None if found is None else (found[0], found[1].value))
