"""Two bins on one plug: every combination of what can stand in both, under every control of the mat.

6 × 6 × 6 × 6 combinations less the empty one, 7 plugs each; no sampling.
"""

from collections import Counter
from itertools import combinations as pairs

import pytest

from monitor.advice.acts import OPPOSITES, Act
from monitor.checks.findings import Condition
from monitor.rules import Control, Level
from parts.orchard import Present, advise, by, rules
from parts.scenes import PLUGS, combinations

ON = {Act.MAT_ON, Act.MAT_RAISE}
OFF = {Act.MAT_OFF, Act.MAT_LOWER}
COOLING = {Act.SHADE, Act.AIR}
WARMING = {Act.INSULATE, Act.COVER}
WATERING = {Act.WATER, Act.DAMPEN}

NOW = {
    "fig.west": Present(20.0),
    "fig.mat": Present(22.0),
    "fig.east": Present(20.0, moisture=66.0, spread=5.0),
    "plum.near": Present(20.0, moisture=66.0, spread=5.0),
}
EVERY = list(combinations())


def has(standing, bed, condition, level=None):
    return any(
        a.key.subject.id == bed and a.key.condition is condition and level in (None, a.level) for a in standing
    )


@pytest.mark.parametrize(("control", "set_to"), PLUGS, ids=str)
def test_whatever_stands_no_plug_gets_two_orders_and_no_bin_two_that_undo_each_other(control, set_to):
    shed = rules(mats=(by(control, set_to),))
    seen, heated = Counter(), 0
    for standing in EVERY:
        orders = advise(standing, NOW, of=shed).orders
        _one_order_a_plug(orders)
        _nothing_undoes_another(orders)
        _heat_and_cooling_do_not_meet(standing, orders)
        _water_and_dryness_do_not_meet(standing, orders)
        assert {a.number for a in standing} == {n for o in orders for n in o.alarms}
        heated += _dry_beds_are_damped_before_heat(standing, orders, control)
        seen.update(o.act for o in orders)
    assert len(EVERY) == 6**4 - 1
    assert bool(heated) is (control is Control.THERMOSTAT)
    assert {Act.WATER, Act.DRY, Act.FEED_LESS, Act.LOOK, Act.INSULATE, Act.SHADE} <= set(seen)


def _one_order_a_plug(orders):
    at_plugs = [o for o in orders if o.target == "long-mat"]
    assert len(at_plugs) <= 1


def _nothing_undoes_another(orders):
    for one, other in pairs(orders, 2):
        if one.target == other.target:
            assert frozenset((one.act, other.act)) not in OPPOSITES


def _heat_and_cooling_do_not_meet(standing, orders):
    for bed in ("fig", "plum"):
        mine = {o.act for o in orders if bed in o.bins}
        assert not (mine & ON and mine & COOLING), "heated and cooled at once"
        assert not (mine & COOLING and mine & WARMING), "wrapped and aired at once"
        hot = has(standing, bed, Condition.HOT)
        assert not (hot and mine & ON), "a bin too hot gets no heat"
        assert not (hot and not has(standing, bed, Condition.COLD) and mine & WARMING)
    harmed = any(has(standing, bed, Condition.HOT, Level.HARM) for bed in ("fig", "plum"))
    assert not (harmed and any(o.act in ON for o in orders)), "no plug heats while a bin on it is harmed by heat"


def _water_and_dryness_do_not_meet(standing, orders):
    for bed in ("fig", "plum"):
        mine = [o for o in orders if o.target == bed]
        watered = any(o.act in WATERING for o in mine)
        assert not (watered and any(o.act in (Act.DRY, Act.DRAIN) for o in mine))
        assert not (watered and any("no more water" in o.why or "do not water" in o.words for o in mine))
        assert not (watered and not has(standing, bed, Condition.DRY))
        wet = has(standing, bed, Condition.WET) or has(standing, bed, Condition.FLOODED)
        assert not (watered and wet), "a wet bed gets no water"
        cold = has(standing, bed, Condition.COLD)
        assert not (cold and bed == "fig" and any(o.act is Act.WATER for o in mine)), "a cold bed is only damped"


def _dry_beds_are_damped_before_heat(standing, orders, control):
    """Whether something dry was heated at all: only after damping, and under a thermostat."""
    dry = {bed for bed in ("fig", "plum") if has(standing, bed, Condition.DRY)}
    if not dry or not any(o.act in ON for o in orders):
        return False
    assert Control.THERMOSTAT is control
    assert dry <= {o.target for o in orders if o.act is Act.DAMPEN}
    return True
