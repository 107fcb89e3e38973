"""The lines that the sheet of limits offers say what holds now: written into the settings, the same limits come out."""

from datetime import date

import pytest

from monitor.readings import Measures
from monitor.reports.holding import holdings
from monitor.reports.limiting import MARKS, bed_limits, marks, setting_lines
from monitor.science.worms import names
from monitor.settings import load

TODAY = date(2026, 11, 25)
BIN = """
bins:
  fig:
    species: {species}
    zones:
      west: {{probes: {{w: {{measures: temperature, topic: w}}}}}}
      mat: {{role: at-the-mat, probes: {{m: {{measures: temperature, topic: m}}}}}}
"""


def loaded(tmp_path, text, units):
    file = tmp_path / "s.yaml"
    file.write_text(f"site: {{id: orchard, timezone: Europe/Lisbon, units: {units}}}\n{text}")
    return load([file], environ={}, today=TODAY)


def numbers(one):
    return [(n.level, n.below, pytest.approx(n.value, abs=0.03), n.lasting) for n in one.numbers]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("species", names())
def test_the_lines_that_are_offered_say_what_holds(tmp_path, species, units):
    before = loaded(tmp_path, BIN.format(species=species), units)
    found = holdings(before.rules, before.written, 0)
    for one in found:
        if one.subject.id != "fig":
            continue
        inside = [line.removeprefix("  ") for line in setting_lines(one, before.rules.site.units)][2:]
        written = BIN.format(species=species) + "".join(f"  {line}\n" for line in inside)
        after = loaded(tmp_path, written, units)
        again = next(
            a
            for a in holdings(after.rules, after.written, 0)
            if (a.subject, a.measures) == (one.subject, one.measures)
        )
        assert numbers(one) == [(n.level, n.below, n.value, n.lasting) for n in again.numbers]
        assert {"the bin"} == {str(n.said_by) for n in again.numbers}


def test_every_mark_of_a_limit_is_explained(tmp_path):
    for species in names():
        settings = loaded(tmp_path, BIN.format(species=species), "metric")
        found = holdings(settings.rules, settings.written, 0)
        used = {n.mark for one in found for n in one.numbers}
        assert used <= set(MARKS)
        assert used == {mark for mark, _ in marks(found)}


def test_a_bin_shows_its_zones_apart_where_others_hold(tmp_path):
    settings = loaded(tmp_path, BIN.format(species="eisenia-fetida"), "metric")
    (fig,) = bed_limits(settings.rules, holdings(settings.rules, settings.written, 0))
    titles = [one.title for one in fig.quantities]
    assert "Temperature" == titles[0]
    assert "Temperature, at the mat" in titles
    assert len(titles) == len(set(titles))
    assert Measures.MOISTURE.capitalize() in titles


def test_an_own_number_says_where_it_is_written(tmp_path):
    text = BIN.format(species="eisenia-fetida") + "    limits: {temperature: {comfort: 16..24 °C}}\n"
    settings = loaded(tmp_path, text, "metric")
    (fig,) = bed_limits(settings.rules, holdings(settings.rules, settings.written, 0))
    first, second, third = fig.quantities[0].rows[:3]
    assert "Comfort begins at 16 °C" in first.sentence
    assert "The bin: your own number, in s.yaml:9." == first.source == second.source
    assert third.source.startswith("The species: ")
