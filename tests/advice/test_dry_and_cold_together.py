"""Dry and cold together: damp the mat's side, look underneath, then the mat under its thermostat; else off.

Dry paper, coir and peat over a mat insulate it and can smoulder [common practice]; dry peat conducts 0.04 W/m K
against 0.27 and more when damp (de Vries 1963) [seen].
"""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.checks.findings import Condition
from monitor.rules import Level
from parts.orchard import FIG, PLUM, Control, Present, advise, alarm, by, rules

COLD = alarm(12, "fig", Condition.COLD, Level.HARM)
DRY = alarm(13, "fig", Condition.DRY, value=68.0)
PARCHED = alarm(13, "fig", Condition.DRY, Level.HARM, value=62.0)
NOW = {"fig.west": Present(14.0), "fig.east": Present(15.0, moisture=62.0, spread=5.0), "plum.near": Present(16.0)}


def acts(advice):
    return [(o.act, o.target) for o in advice.orders]


@pytest.mark.parametrize("dry", [DRY, PARCHED])
def test_under_a_thermostat_the_side_is_damped_before_the_mat_heats(dry):
    advice = advise([COLD, dry], NOW, of=rules(mats=[by(Control.THERMOSTAT, 23.0)]))
    assert [(Act.DAMPEN, "fig"), (Act.MAT_ON, "long-mat"), (Act.INSULATE, "fig")] == acts(advice)
    damp, heat, _ = advice.orders
    assert "damp long-mat's side: about 0.8 litres, 15 to 17 °C" == damp.words
    assert "then look underneath before the mat heats" in damp.why
    assert "then switch long-mat on, under its thermostat" == heat.words
    assert heat.by is None
    assert damp.urgent
    assert heat.cautions[0].startswith("A dry bed over a warm mat can smoulder")


@pytest.mark.parametrize("control", [c for c in Control if c is not Control.THERMOSTAT])
def test_without_a_thermostat_the_mat_stays_off_and_the_bed_is_wrapped_or_moved(control):
    advice = advise([COLD, PARCHED], NOW, of=rules(mats=[by(control)]))
    wanted = [(Act.MAT_OFF, "long-mat"), (Act.DAMPEN, "fig"), (Act.INSULATE, "fig"), (Act.MOVE, "fig")]
    assert wanted == acts(advice)
    assert "keep long-mat off until the bed over it is damp" == advice.orders[0].words
    insulate = next(o for o in advice.orders if o.act is Act.INSULATE)
    assert "long-mat stays off: Fig is dry over it, and no thermostat holds it" in insulate.why


def test_merely_dry_and_cold_without_a_thermostat_waits_with_the_water():
    orders = advise([COLD, DRY], NOW, of=rules(mats=[by(Control.HAND)])).orders
    assert not any(o.act in (Act.WATER, Act.DAMPEN) for o in orders)
    assert any(o.words == "do not water it yet: it is too cold" for o in orders)


def test_a_dry_neighbour_on_the_plug_is_damped_first_too():
    plum = alarm(14, "plum", Condition.DRY, Level.HARM, value=58.0)
    advice = advise([COLD, plum], NOW, of=rules(mats=[by(Control.THERMOSTAT, 23.0)]))
    assert [(Act.DAMPEN, "plum"), (Act.MAT_ON, "long-mat"), (Act.INSULATE, "fig")] == acts(advice)


def test_dry_at_one_end_and_wet_at_the_other_keeps_even_a_thermostats_mat_off():
    wet = alarm(14, "fig.west", Condition.WET)
    advice = advise([COLD, PARCHED, wet], NOW, of=rules(mats=[by(Control.THERMOSTAT, 23.0)]))
    assert (Act.MAT_OFF, "long-mat") == acts(advice)[0]
    assert not any(o.act in (Act.MAT_ON, Act.DAMPEN, Act.WATER) for o in advice.orders)


def test_a_parched_bed_keeps_its_mat_off_even_when_it_is_not_cold():
    warm = {"fig.west": Present(24.0), "fig.east": Present(24.0, moisture=62.0, spread=5.0)}
    for control in Control:
        advice = advise([PARCHED], warm, of=rules(mats=[by(control, 23.0)]))
        assert [(Act.MAT_OFF, "long-mat"), (Act.WATER, "fig")] == acts(advice)


def test_a_bed_that_is_only_out_of_comfort_keeps_its_mat():
    warm = {"fig.west": Present(24.0), "fig.east": Present(24.0, moisture=66.0, spread=5.0)}
    assert [(Act.WATER, "fig")] == acts(advise([DRY], warm))


def test_parched_and_cold_without_any_mat_is_damped_a_little_with_bed_warm_water():
    orders = advise([COLD, PARCHED], NOW, of=rules(mats=())).orders
    damp = next(o for o in orders if o.act is Act.DAMPEN)
    assert "damp the top with a little water, 15 to 17 °C" == damp.words


def test_without_a_mass_the_mats_side_gets_a_little():
    shed = rules(bins=(replace(FIG, bedding=None), PLUM), mats=[by(Control.THERMOSTAT, 23.0)])
    assert (
        "damp long-mat's side: a little water, 15 to 17 °C"
        == advise([COLD, PARCHED], NOW, of=shed).orders[0].words
    )
