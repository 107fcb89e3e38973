"""Every combination of what can stand in a shed of two bins on one plug, one after the other."""

from itertools import product

from monitor.checks.findings import Condition
from monitor.rules import Control, Level
from parts.orchard import alarm

COMFORT, HARM = Level.COMFORT, Level.HARM
COLD, HOT, DRY, WET, FLOODED = (
    Condition.COLD,
    Condition.HOT,
    Condition.DRY,
    Condition.WET,
    Condition.FLOODED,
)

HEAT = ((), ((COLD, COMFORT),), ((COLD, HARM),), ((HOT, COMFORT),), ((HOT, HARM),), ((COLD, HARM), (HOT, HARM)))
WATER = (
    (),
    ((DRY, COMFORT),),
    ((DRY, HARM),),
    ((WET, COMFORT),),
    ((WET, HARM), (FLOODED, COMFORT)),
    ((DRY, COMFORT), (WET, COMFORT)),
)
"""What can stand of a bin by its temperature and by its moisture: nothing, either level, both ends at once."""

PLUGS = [
    (control, set_to)
    for control in Control
    for set_to in ((None, 23.0) if control is Control.THERMOSTAT else (None,))
]


def combinations():
    """The alarms of both bins, in every combination."""
    for ours in product(HEAT, WATER, HEAT, WATER):
        fig, plum = (*ours[0], *ours[1]), (*ours[2], *ours[3])
        named = [("fig", *one) for one in fig] + [("plum", *one) for one in plum]
        if named:
            yield tuple(alarm(n, bed, what, level) for n, (bed, what, level) in enumerate(named, start=1))
