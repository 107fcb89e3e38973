"""Whatever a keeper reads is in the site's own units: every line of every command and of every order, both ways."""

import re

import pytest
from hypothesis import given, settings

from cli.keeping import Site, cold
from monitor.notify.text import explain
from monitor.readings import MINUTE
from monitor.rules import Units
from parts.drawn import HOURS, ZONES_NOW, alarms, sheds
from parts.orchard import advise

METRIC = re.compile(r"°C|\d (?:litres?|L|kg|m²|kg/m³)\b")
AMERICAN = re.compile(r"°F|\d ?[¼½¾]? ?(?:gallons?|gal|cups?|lb|ft²)\b|[¼½¾] gallon")
SOURCES = re.compile(r"\[[^]]*\]|\([^()]*(?:\([^()]*\)[^()]*)*\[[^]]*\]\)|comes from: .*|Reckoned in °C: .*")
"""What is quoted from elsewhere is in the units of the source, and the arithmetic says in which it is reckoned."""


def foreign(line, units):
    """Whether a line tells something only in the units that the site does not use."""
    own, other = (METRIC, AMERICAN) if units is Units.METRIC else (AMERICAN, METRIC)
    told = SOURCES.sub("", line)
    return bool(other.search(told)) and not own.search(told)


def test_a_line_in_the_other_units_is_found_out():
    assert foreign("Fig: west is 14.2 °C", Units.US)
    assert foreign("sprinkle about ½ gallon", Units.METRIC)
    assert not foreign("Water within 3 °C (5 °F) of the bed", Units.US)
    assert not foreign("The limit comes from: 7 °C in FAO 2003", Units.US)


@settings(max_examples=300, deadline=None)
@given(alarms(), ZONES_NOW, sheds(), HOURS)
def test_every_line_of_advice(standing, zones, shed, at):
    advice = advise(standing, zones, of=shed, at=at)
    lines = [
        *explain(advice, shed, advice.at),
        *(text for o in advice.orders for text in (o.words, o.why, o.fact)),
    ]
    assert [] == [line for line in lines if foreign(line, shed.site.units)]


def lived_through(site):
    """A morning with harm by cold, a drought, a probe that says the impossible, and a diary."""
    with site.lived() as house:
        cold(house, fig_damp=1900.0)
        for words in ('{"deed": "fed", "subject": "bin:fig", "amount": 1.5, "unit": "kg"}',
                      '{"deed": "watered", "subject": "bin:fig", "amount": 2.0, "unit": "L"}',
                      '{"deed": "weighed", "subject": "bin:fig", "amount": 31.0, "unit": "kg", "ago": 86400000}'):  # fmt: skip
            house.store.ask(house.at, "ana", "diary", body=words)
        house.rounds.run()
        house.at += MINUTE
        house.say(fig_west=11.4, plum_near=29.0)


@pytest.mark.parametrize("units", Units)
def test_every_line_of_every_command(tmp_path, noon, capsys, units):
    site = Site(tmp_path, units=str(units), began="2026-11-24T18:00")
    lived_through(site)
    commands = [("now",), ("alarms",), ("check",), ("diary",), ("probes",)]
    numbers = [alarm["number"] for alarm in site.tells(capsys, "alarms")["alarms"]]
    assert 2 <= len(numbers)
    commands += [("why", str(number)) for number in numbers]
    for command in commands:
        said = site.says(capsys, *command).splitlines()
        assert [] == [line for line in said if foreign(line, units)], command
    own = METRIC if units is Units.METRIC else AMERICAN
    assert own.search(site.says(capsys, "now"))
    assert own.search(site.says(capsys, "diary"))


def test_species_are_told_in_both():
    from monitor.reports.species import species_facts, species_list_text, species_text
    from monitor.science.worms import names, species

    for text in [species_list_text([species_facts(species(n)) for n in names()])] + [
        species_text(species_facts(species(n))) for n in names()
    ]:
        for line in text.splitlines():
            told = SOURCES.sub("", line.partition(": our")[0].partition(": trade")[0])
            if "comfort" in told or "harm" in told or "home" in told:
                assert ("°C" in told) is ("°F" in told), line
