"""Each limit that holds: its number, whose it is, where it stands, and the path at which the settings would change it."""

from datetime import date
from pathlib import Path

import pytest

from monitor.readings import HOUR, Measures
from monitor.reports.holding import Scope, holdings
from monitor.rules import Level
from monitor.science.worms import species
from monitor.settings import load
from parts.orchard import ms

TODAY = date(2026, 11, 25)
NOW = ms("12:00")
WHOLE = Path(__file__).parents[2] / "fixtures" / "whole" / "settings.yaml"
TEMPERATURE, MOISTURE = Measures.TEMPERATURE, Measures.MOISTURE


@pytest.fixture
def held(tmp_path):
    """What holds by settings with one mat below `fig.mat`, as {(name, quantity): Holding}."""

    def holding(*, site="", bed="", zone="", units="metric"):
        file = tmp_path / "s.yaml"
        file.write_text(
            f"site: {{id: orchard, timezone: Europe/Lisbon, units: {units}{site}}}\n"
            "bins:\n  fig:\n    species: eisenia-fetida\n    zones:\n"
            "      west: {probes: {w: {measures: temperature, topic: w}}}\n"
            f"      mat: {{role: at-the-mat, probes: {{m: {{measures: temperature, topic: m}}}}{zone}}}\n"
            + (f"    {bed}\n" if bed else "")
        )
        settings = load([file], environ={}, today=TODAY)
        return {(one.subject.id, one.measures): one for one in holdings(settings.rules, settings.written, NOW)}

    return holding


def number(one, level, *, below):
    return next(n for n in one.numbers if n.level is level and n.below is below)


def test_without_a_word_of_the_keepers_the_species_holds(held):
    worm = species("eisenia-fetida")
    fig = held()[("fig", TEMPERATURE)]
    low = number(fig, Level.COMFORT, below=True)
    assert worm.temperature.low.value == low.value
    assert (worm.temperature.low.source, worm.temperature.low.mark) == (low.source, low.mark)
    assert (Scope.SPECIES, "") == (low.said_by, low.written)
    assert len(worm.temperature.harm) + 2 == len(fig.numbers)


def test_the_nearest_word_holds_and_says_who_and_where(held):
    found = held(
        site=", limits: {temperature: {comfort: 14..24 °C}}",
        bed="limits: {temperature: {harm: [{above: 33 °C, lasting: 2 h}]}}",
        zone=", limits: {temperature: {harm: [{above: 31 °C, lasting: 0 min}]}}",
    )
    fig, mat = found[("fig", TEMPERATURE)], found[("fig.mat", TEMPERATURE)]
    comfort, harm = number(fig, Level.COMFORT, below=False), number(fig, Level.HARM, below=False)
    assert (24.0, Scope.SITE, "s.yaml:1") == (comfort.value, comfort.said_by, comfort.written)
    assert (33.0, 2 * HOUR, Scope.BIN, "s.yaml:8") == (harm.value, harm.lasting, harm.said_by, harm.written)
    own = number(mat, Level.HARM, below=False)
    assert (31.0, 0, Scope.ZONE, "s.yaml:7") == (own.value, own.lasting, own.said_by, own.written)
    assert "Harm at 31 °C and above, told at once." == own.sentence


def test_what_a_profile_says_is_the_profiles_and_is_changed_there(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text(
        "site: {id: orchard, timezone: Europe/Lisbon}\n"
        "profiles:\n  crate:\n    bins: [crate-1..crate-2]\n    name: Crate <number>\n    species: eisenia-fetida\n"
        "    limits: {temperature: {comfort: 16..22 °C}}\n"
        "    zones:\n      far: {probes: {<bin>-far: {measures: temperature, topic: crates/<bin>}}}\n"
    )
    settings = load([file], environ={}, today=TODAY)
    found = [one for one in holdings(settings.rules, settings.written, NOW) if one.measures is TEMPERATURE]
    assert 2 == len(found)
    for one in found:
        low = number(one, Level.COMFORT, below=True)
        assert (16.0, Scope.PROFILE, "s.yaml:7") == (low.value, low.said_by, low.written)
        assert "profiles.crate.limits.temperature.comfort" == low.change_at


def test_what_the_keeper_did_not_write_is_the_species_and_stands_on_no_line():
    settings = load([WHOLE], environ={}, today=TODAY, need_secrets=False)
    numbers = [n for one in holdings(settings.rules, settings.written, NOW) for n in one.numbers]
    own = [n for n in numbers if n.mark == "settings"]
    assert {Scope.SITE, Scope.BIN} == {n.said_by for n in own}
    assert all(n.written.startswith("settings.yaml:") for n in own)
    assert all(n.said_by is Scope.SPECIES and not n.written for n in numbers if n not in own)


def test_a_written_limit_stands_on_the_line_that_is_named():
    settings = load([WHOLE], environ={}, today=TODAY, need_secrets=False)
    lines = WHOLE.read_text().splitlines()
    for one in holdings(settings.rules, settings.written, NOW):
        for each in one.numbers:
            if each.written:
                assert str(each.level) in lines[int(each.written.partition(":")[2]) - 1]


@pytest.mark.parametrize("who", ["fig", "fig.mat"])
@pytest.mark.parametrize("level", list(Level))
def test_what_is_written_at_the_path_is_what_holds_then(held, who, level):
    before = (
        number(held()[(who, TEMPERATURE)], level, below=False) if level is Level.HARM or who == "fig" else None
    )
    path = before.change_at if before else f"bins.fig.zones.mat.limits.temperature.{level}"
    end = "comfort: 16..23 °C" if level is Level.COMFORT else "harm: [{above: 32.5 °C, lasting: 3 h}]"
    within = f"limits: {{temperature: {{{end}}}}}"
    assert path.endswith(f"limits.temperature.{level}")
    zoned = path.startswith("bins.fig.zones.mat.")
    after = held(zone=f", {within}") if zoned else held(bed=within)
    assert ("fig.mat" == who) is zoned
    found = number(after[(who, TEMPERATURE)], level, below=False)
    assert (23.0 if level is Level.COMFORT else 32.5, "settings") == (found.value, found.mark)


def test_bedding_too_wet_is_told_later_than_too_dry(held):
    damp = held()[("fig", MOISTURE)]
    dry, wet = (number(damp, Level.COMFORT, below=below) for below in (True, False))
    assert (HOUR, 6 * HOUR) == (dry.lasting, wet.lasting)
    assert (
        f"Comfort begins at {dry.value:g} %; below, by the median of a day, it is told after 1 h." == dry.sentence
    )


def test_moisture_without_a_calibrated_probe_is_not_judged_by_one(held):
    found = held()
    assert found[("fig", TEMPERATURE)].judged
    assert not found[("fig", MOISTURE)].judged


def test_a_site_that_reads_fahrenheit_reads_it_here_too(held):
    found = held(units="us", bed="limits: {temperature: {comfort: 59..77 °F, deadband: 1.8 °F}}")[
        ("fig", TEMPERATURE)
    ]
    assert (
        "Comfort begins at 59 °F; below it is told after 1 h." == number(found, Level.COMFORT, below=True).sentence
    )
    assert found.over.startswith("Over when it is 1.8 °F inside again for ")
    assert pytest.approx(15.0) == number(found, Level.COMFORT, below=True).value
