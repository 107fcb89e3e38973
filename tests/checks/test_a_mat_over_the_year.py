"""In spring a mat that was not needed for a week is put away; in autumn one that nobody has tried is tried before the cold."""

from dataclasses import replace

import pytest

from monitor.bed import living
from monitor.bed.forecast import Dressed
from monitor.bed.hours import Known
from monitor.bed.living import Drive
from monitor.bed.plan import as_now
from monitor.bed.room import Room, heard
from monitor.bed.zone import Hour
from monitor.checks.findings import Condition
from monitor.checks.mat_years import MatYear, look_at_mat_years, year_of, year_text, years_in
from monitor.readings import DAY, HOUR, Measures
from monitor.rules import Bound, Control, Limits
from parts import orchard

AT_NINE, AT_EIGHT = orchard.ms("09:00"), orchard.ms("20:00")
LOW = Limits(Bound(10.0, "ours", "settings"), None)
WEST = replace(orchard.FIG.zones[0], limits={Measures.TEMPERATURE: LOW})
FIG = replace(orchard.FIG, zones=(WEST,), limits={Measures.TEMPERATURE: LOW})
MAT = replace(orchard.LONG_MAT, warms=(("fig", "west"),))
RULES = orchard.rules(bins=(FIG,), mats=(MAT,))


def told(at, *, air, warmth, duty=0.0):
    """A bed with errors of its own that is told of at an hour, its room steady."""
    bed, room = living.begin(FIG, 0, watts=40.0), Room()
    for back in range(3, -1, -1):
        hour = Hour(at - back * HOUR, warmth, warmth, air, duty)
        room = heard(room, hour.at, air)
        bed = living.took_up(bed, hour)
    one = living.tell(bed, room, hour, limits=(10.0, None), drive=Drive(duty, Known.DIARY, as_now(duty)))
    return replace(one, forecast=replace(one.forecast, dressed=Dressed.OWN))


def look(one, before=None, standing=(), rules=RULES):
    return look_at_mat_years(rules, {"fig": {"west": one}}, {} if before is None else before, standing=standing)


def conditions(findings):
    return [(str(f.key.subject), f.key.condition, f.level) for f in findings]


def test_a_mat_that_nobody_knows_of_is_tried_when_nights_come_near():
    _, findings = look(told(AT_NINE, air=9.0, warmth=12.5))
    assert [("mat:long-mat", "mat to be tried", "comfort")] == conditions(findings)
    assert "nobody knows when it was on last" in findings[0].evidence.arithmetic
    assert 2 <= int(findings[0].evidence.statistic.split()[0]) <= 8


@pytest.mark.parametrize(
    ("air", "warmth", "at"),
    [(18.0, 20.0, AT_NINE), (0.0, 12.5, AT_NINE), (9.0, 9.5, AT_NINE), (9.0, 12.5, AT_EIGHT)],
    ids=["far from the limit", "harm comes: that is told", "below already", "not in the morning"],
)
def test_it_is_not_asked_for_at_any_other_time(air, warmth, at):
    _, findings = look(told(at, air=air, warmth=warmth))
    assert [] == findings


def test_a_mat_that_was_on_lately_is_not_tried_and_trying_it_ends_it():
    week = {"long-mat": MatYear(AT_NINE - DAY, (), AT_NINE - 7 * DAY)}
    assert [] == look(told(AT_NINE, air=9.0, warmth=12.5), week)[1]
    month = {"long-mat": MatYear(AT_NINE - DAY, (), AT_NINE - 40 * DAY)}
    _, (finding,) = look(told(AT_NINE, air=9.0, warmth=12.5), month)
    assert "it was last on 40 days ago" in finding.evidence.arithmetic
    years, (over,) = look(told(AT_NINE, air=9.0, warmth=12.5, duty=1.0), month, standing=[finding.key])
    assert over.level is None
    assert AT_NINE == years["long-mat"].used_at


def test_a_thermostat_with_a_hidden_relay_is_never_asked_for():
    rules = orchard.rules(bins=(FIG,), mats=(replace(MAT, control=Control.THERMOSTAT, set_to=18.0),))
    assert [] == look(told(AT_NINE, air=9.0, warmth=12.5), rules=rules)[1]


def evenings(count, *, air, warmth=18.0, duty=0.3):
    years, findings = {}, []
    for day in range(count):
        found, findings = look(told(AT_EIGHT + day * DAY, air=air, warmth=warmth, duty=duty), years)
        years = {**years, **found}
    return years, findings


def test_after_seven_mild_evenings_a_mat_in_use_has_not_been_needed():
    assert [] == evenings(6, air=22.0)[1]
    years, findings = evenings(7, air=22.0)
    assert [("mat:long-mat", "mat not needed", "comfort")] == conditions(findings)
    assert 7 == len(years["long-mat"].evenings)
    assert max(years["long-mat"].evenings) < 0.05


def test_one_cold_evening_or_a_mat_that_is_put_away_says_nothing():
    assert [] == evenings(7, air=2.0)[1]
    assert [] == evenings(9, air=22.0, duty=0.0)[1]


def test_what_is_kept_is_read_as_it_was():
    one = MatYear(AT_NINE, (0.01, None), AT_NINE - DAY)
    assert one == year_of(year_text(one))
    assert {"long-mat": one} == years_in({("mat year", "mat:long-mat"): year_text(one), ("probe", "x"): "1"})


def test_an_hour_counts_once():
    years, _ = look(told(AT_EIGHT, air=22.0, warmth=18.0, duty=0.3))
    assert ({}, []) == look(told(AT_EIGHT, air=22.0, warmth=18.0, duty=0.3), years)
    assert Condition.MAT_UNNEEDED == "mat not needed"
