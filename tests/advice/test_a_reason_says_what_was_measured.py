"""Why an alarm stands, in the words of a notice: which zone decides, what it measures, and in which unit."""

from dataclasses import replace

import pytest

from monitor.advice.reasons import reason
from monitor.advice.scene import Scene
from monitor.checks.findings import Condition
from parts.orchard import FIG, PLUM, Present, alarm, ms, rules

BEDS = {"fig": FIG, "plum": PLUM}
KNOWN = {
    "fig.west": Present(14.2, moisture=66.0, spread=5.0),
    "fig.east": Present(15.1, moisture=68.0, spread=5.0),
    "fig.mat": Present(22.0),
    "plum.near": Present(9.0, moisture=60.0, spread=5.0),
}
COLD, HOT, DRY, WET = Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET


def said(name, condition, zones, **more):
    one = alarm(12, name, condition)
    one = replace(one, evidence=replace(one.evidence, **more))
    found = reason(Scene("shed", rules(), zones, (one,), ms("02:10")), one, BEDS[name.partition(".")[0]])
    return found.why.partition(", comfort")[0], found.fact


@pytest.mark.parametrize(
    ("name", "condition", "why", "fact"),
    [
        ("fig", COLD, "Warmest living zone 15.1 °C", "east is 15.1 °C"),
        ("fig", HOT, "Coolest living zone 14.2 °C", "west is 14.2 °C"),
        ("fig", DRY, "Moisture 70 % over a day (68 % now)", "moisture is 70 %"),
        ("fig", WET, "Moisture 66 %", "moisture is 66 %"),
        ("plum", COLD, "Bed 9.0 °C", "the bed is 9.0 °C"),
        ("fig.mat", HOT, "At the mat 22.0 °C", "22.0 °C at the mat"),
        ("fig.west", COLD, "West 14.2 °C", "west is 14.2 °C"),
        ("fig.west", DRY, "Moisture in west 70 % over a day (66 % now)", "moisture is 70 %"),
        ("plum.near", DRY, "Moisture in near 65 % over a day (60 % now)", "moisture is 65 %"),
    ],
)
def test_what_is_measured_now(name, condition, why, fact):
    assert (why, fact) == said(name, condition, KNOWN)


@pytest.mark.parametrize(
    ("name", "condition", "why", "fact"),
    [
        ("fig", COLD, "Warmest living zone was 21.0 °C", "west was 21.0 °C"),
        ("fig", WET, "Moisture was 85 %", "moisture was 85 %"),
        ("fig", DRY, "Moisture 70 % over a day", "moisture is 70 %"),
        ("plum", COLD, "Bed was 10.0 °C", "the bed was 10.0 °C"),
    ],
)
def test_what_was_measured_when_it_was_judged(name, condition, why, fact):
    assert (why, fact) == said(name, condition, {})


def test_nothing_is_made_of_what_was_never_measured():
    assert ("Not measured now", "not measured now") == said("fig", COLD, {}, value=None)


def test_at_most_belongs_to_the_value_that_was_judged_and_to_no_newer_one():
    assert "Moisture was at least 85 %" == said("fig", WET, {}, side=1)[0]
    assert "Moisture 66 %" == said("fig", WET, KNOWN, side=1)[0]


def test_a_long_name_of_a_zone_is_left_out_of_the_few_words():
    for name, shown in (("w" * 16, "w" * 16), ("w" * 17, "it")):
        bed = replace(FIG, zones=(replace(FIG.zones[0], id=name), *FIG.zones[1:]))
        one = alarm(12, "fig", COLD)
        zones = {f"fig.{name}": Present(16.0), "fig.east": Present(15.0)}
        found = reason(Scene("shed", rules(bins=(bed, PLUM)), zones, (one,), ms("02:10")), one, bed)
        assert f"{shown} is 16.0 °C" == found.fact
