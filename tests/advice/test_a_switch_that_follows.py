"""A switch that follows has its mat on only while everything needed is known and everything known speaks for it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.advice.follow import MAY_STAND, VALID, Stands, followed, told, zones_needed
from monitor.advice.present import UNKNOWN, Present
from monitor.alarms.cycle import State
from monitor.alarms.holds import Shelf, Work
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import HOUR, MINUTE
from monitor.rules import Control, Level, Limits, Role
from monitor.science.heat import capacity
from parts.orchard import FIG, LONG_MAT, PLUM, alarm, ms, now_at, rules

AT = ms("02:10")
FOLLOWED = replace(LONG_MAT, control=Control.THERMOSTAT, set_to=23.0, follow=True)
SHED = rules(mats=(FOLLOWED,))
MEASURED = now_at(fig_west=18.0, fig_mat=22.0, fig_east=17.0, plum_near=18.0)
COLD = alarm(12, "fig", Condition.COLD, Level.HARM)


def said(*alarms, of=SHED, zones=MEASURED, **more):
    """What the long mat's switch is told."""
    (found,) = followed(Stands(of, alarms, zones, AT, **more))
    return found


def test_it_is_on_while_a_bin_on_it_is_too_cold_and_nothing_else_is_the_matter():
    found = said(COLD)
    assert (True, "Fig is too cold (alarm 12).") == (found.on, found.why)
    assert (AT, AT + 10 * MINUTE) == (found.at, found.valid_until)


def test_it_is_off_while_nothing_is_the_matter():
    found = said()
    assert (False, "No alarm by cold stands that it serves.") == (found.on, found.why)
    assert AT + VALID == found.valid_until


def test_it_stays_on_although_no_order_says_so_any_more():
    """Whoever follows orders loses theirs as soon as the mat is on; the cold that stands keeps this one on."""
    assert said(replace(COLD, state=State.ACKNOWLEDGED)).on


def test_cold_that_is_over_no_longer_counts():
    assert not said(replace(COLD, state=State.RETURNED, level=None)).on


def test_a_mat_is_not_followed_unless_the_settings_say_so():
    assert [] == followed(Stands(rules(mats=(replace(FOLLOWED, follow=False),)), (COLD,), MEASURED, AT))
    assert set() == zones_needed(rules())
    assert {"fig", "plum"} == zones_needed(SHED)
    assert not told(replace(FOLLOWED, follow=False), Stands(SHED, (COLD,), MEASURED, AT)).on


@pytest.mark.parametrize("control", [c for c in Control if c is not Control.THERMOSTAT])
def test_nothing_but_a_thermostat_is_followed_whatever_the_settings_let_through(control):
    found = said(COLD, of=rules(mats=(replace(FOLLOWED, control=control),)))
    assert not found.on
    assert "thermostat" in found.why


def test_a_mat_without_a_probe_right_above_it_stays_off():
    bare = replace(FIG, zones=tuple(z for z in FIG.zones if z.role is not Role.AT_THE_MAT))
    found = said(COLD, of=rules(bins=(bare, PLUM), mats=(FOLLOWED,)))
    assert (False, "Nobody measures right above long-mat.") == (found.on, found.why)


@pytest.mark.parametrize("condition", [c for c in Condition if c not in MAY_STAND])
@pytest.mark.parametrize(
    "where", [(Kind.BIN, "plum"), (Kind.ZONE, "fig.east"), (Kind.PROBE, "fig-mat"), (Kind.MAT, "long-mat")]
)
def test_whatever_else_stands_on_it_keeps_it_off(condition, where):
    other = replace(alarm(13, "fig", Condition.HOT), key=AlarmKey(Subject(*where, "shed"), condition))
    found = said(COLD, other)
    assert (False, f"{where[1][:1].upper()}{where[1][1:]}: {condition} (alarm 13).") == (found.on, found.why)


@pytest.mark.parametrize("condition", sorted(MAY_STAND))
def test_what_cold_brings_with_it_does_not(condition):
    there = alarm(13, "fig", Condition.HOT)
    for where in ((Kind.BIN, "plum"), (Kind.ZONE, "fig.west"), (Kind.MAT, "long-mat")):
        assert said(COLD, replace(there, key=AlarmKey(Subject(*where, "shed"), condition))).on
    harmful = {"hot", "dry", "wet", "flooded", "silent", "faulty", "stuck", "drifting", "unwatched"}
    assert set() == {str(c) for c in MAY_STAND} & (harmful | {"mat too strong", "heat ahead", "self-heating"})


def test_a_cold_night_that_is_told_ahead_is_served_too_and_a_mat_that_does_not_heat_keeps_nothing_off():
    night = alarm(14, "fig", Condition.COLD_AHEAD)
    dead, untried = (
        replace(alarm(n, "fig", Condition.HOT), key=AlarmKey(Subject(Kind.MAT, "long-mat", "shed"), Condition(c)))
        for n, c in ((15, "mat not heating"), (16, "mat to be tried"))
    )
    assert (True, "A cold night is told ahead of fig (alarm 14).") == (said(night).on, said(night).why)
    assert said(night, dead, untried).on
    assert (True, "Fig is too cold (alarm 12).") == (said(COLD, night, dead).on, said(COLD, night, dead).why)
    assert not said(dead, untried).on
    assert not said(replace(night, state=State.RETURNED, level=None)).on
    assert {"cold", "cold night ahead", "mat not heating", "mat to be tried"} == {str(c) for c in MAY_STAND}


@pytest.mark.parametrize("condition", [Condition.HOT, Condition.DRY, Condition.WET, Condition.FLOODED])
def test_also_what_is_shelved_explained_or_worked_at(condition):
    there = alarm(13, "plum", condition)
    for quiet in (
        replace(there, shelf=Shelf(AT - HOUR, AT + HOUR, "ana", Level.COMFORT, 13)),
        replace(there, work=Work("plum", AT - HOUR, AT + HOUR, "ana")),
        replace(there, cause=COLD.key),
        replace(there, state=State.ACKNOWLEDGED),
    ):
        assert not said(COLD, quiet).on
    assert said(COLD, replace(there, state=State.RETURNED, level=None)).on, "what is over keeps nothing off"


def test_trouble_elsewhere_does_not_keep_it_off():
    far = alarm(13, "sloe", Condition.HOT, Level.HARM)
    probe = replace(far, key=AlarmKey(Subject(Kind.PROBE, "sloe-top", "porch"), Condition.SILENT))
    assert said(COLD, far, probe).on


def test_cold_of_which_only_a_worm_that_eats_less_lives_warms_nothing():
    """*Eisenia* below comfort only eats less; its harm does ask for warmth."""
    assert not said(alarm(14, "plum", Condition.COLD, Level.COMFORT)).on
    assert said(alarm(14, "plum", Condition.COLD, Level.HARM)).on


def test_cold_in_a_zone_that_another_mat_warms_is_not_its_to_serve():
    east = replace(FOLLOWED, id="east-mat", warms=(("fig", "east"),), follow=False)
    found = said(alarm(15, "fig.east", Condition.COLD, Level.HARM), of=rules(mats=(FOLLOWED, east)))
    assert not found.on


@pytest.mark.parametrize("zone", ["fig.west", "fig.mat", "plum.near"])
def test_every_warmed_zone_must_be_measured_now(zone):
    found = said(COLD, zones={**MEASURED, zone: UNKNOWN})
    name = zone.replace(".", " ").capitalize()
    assert (False, f"{name} is not measured now.") == (found.on, found.why)


@pytest.mark.parametrize("probe", ["fig-west", "fig-mat", "plum-near-damp"])
def test_it_is_off_while_the_newest_word_of_a_probe_on_it_is_not_believed(probe):
    """Its last good value may be old by then, and what it says now, a jump to 35 °C, may be true."""
    found = said(COLD, doubted={probe})
    assert (False, f"What {probe} said last is not believed.") == (found.on, found.why)
    assert said(COLD, doubted={"fig-east", "sloe-top"}).on


def test_a_zone_that_it_does_not_warm_need_not_be_measured():
    assert said(COLD, zones={**MEASURED, "fig.east": UNKNOWN}).on


@pytest.mark.parametrize(("zone", "limit"), [("fig.west", 29.0), ("fig.mat", 29.0), ("plum.near", 28.0)])
def test_every_warmed_zone_must_be_below_its_hot_limit(zone, limit):
    below, at = Present(limit - 0.01, MINUTE), Present(limit, MINUTE)
    assert said(COLD, zones={**MEASURED, zone: below}).on
    found = said(COLD, zones={**MEASURED, zone: at})
    assert not found.on
    assert f"its limit {limit:.0f} °C" in found.why


def test_a_zone_of_which_nobody_says_how_warm_it_may_become_keeps_it_off():
    west, *others = FIG.zones
    free = replace(FIG, zones=(replace(west, limits={m: Limits(None, None) for m in west.limits}), *others))
    assert (
        "Nobody says how warm Fig west may become."
        == said(COLD, of=rules(bins=(free, PLUM), mats=(FOLLOWED,))).why
    )


def test_it_is_off_while_somebody_works_in_any_bin_on_it():
    for bed, name in (("fig", "Fig"), ("plum", "Plum")):
        found = said(COLD, works={bed})
        assert (False, f"Somebody works in {name}.") == (found.on, found.why)
    assert said(COLD, works={"sloe"}).on


def test_it_is_off_when_a_bin_on_it_could_not_be_judged():
    assert not said(COLD, failed={"plum"}).on
    assert said(COLD, failed={"sloe"}).on


def test_it_is_off_when_nothing_of_the_round_can_be_relied_on():
    found = said(COLD, doubt="what time it is, is not known.")
    assert (False, "What time it is, is not known.") == (found.on, found.why)


FLAWS = {
    "doubt": {"doubt": "this round could not be stored."},
    "work": {"works": {"plum"}},
    "failed": {"failed": {"fig"}},
    "doubted": {"doubted": {"fig-mat"}},
    "unmeasured": {"zones": {**MEASURED, "fig.mat": UNKNOWN}},
    "hot": {"zones": {**MEASURED, "plum.near": Present(30.0)}},
    "thermostat": {"of": rules(mats=(replace(FOLLOWED, control=Control.HAND),))},
}
TROUBLES = [alarm(n, "plum", c) for n, c in enumerate((Condition.HOT, Condition.DRY, Condition.WET), start=20)]


@settings(max_examples=200, deadline=None)
@given(st.sets(st.sampled_from(sorted(FLAWS))), st.sets(st.integers(0, 2)), st.booleans())
def test_it_is_on_exactly_when_it_is_cold_and_nothing_whatever_speaks_against_it(flaws, troubles, cold):
    more = {k: v for name in sorted(flaws) for k, v in FLAWS[name].items()}
    alarms = [*([COLD] if cold else []), *(TROUBLES[n] for n in sorted(troubles))]
    assert (cold and not flaws and not troubles) is said(*alarms, **more).on


def test_what_it_can_do_within_the_time_that_a_word_holds_harms_no_bed():
    """40 W for ten minutes into 35 kg of bedding, 28 kg of it water at 4.18 kJ/kg K (CRC Handbook, memory), and nothing
    lost: by hand 24 kJ and 117 kJ/K. A chilled bed is to be warmed by 1 °C an hour at most, which is 0.17 in that time.
    """
    kilojoules = 40.0 * VALID / 1000 / 1000
    assert 24.0 == kilojoules
    assert 0.205 == pytest.approx(kilojoules / (28 * 4.18), abs=0.001)
    share = capacity(organic=7 / 1.3 / 58, water=28 / 58)  # 58 L of bed: MJ/m³ K, so kJ/K for each litre
    assert 0.2 == pytest.approx(kilojoules / (58 * share), abs=0.02)


def test_times_are_those_of_the_round():
    moment = datetime(2026, 11, 25, 2, 10, tzinfo=UTC)
    assert moment + timedelta(minutes=10) == datetime.fromtimestamp(said().valid_until / 1000, UTC)
