"""What a calibration comes to: lines that the settings take as they stand, beside the arithmetic, in the site's units."""

from datetime import date

import pytest

from monitor.reports.calibrating import ice_sentence, offset_line, point_lines, tub_sentences
from monitor.rules import Units
from monitor.science.ice import in_ice
from monitor.science.tubs import Tub, Weighed, points_of
from monitor.settings import load

TODAY = date(2026, 11, 25)
TUBS = points_of([Tub(1450.25, Weighed(wet=600, dry=118)), Tub(2700, Weighed(wet=500, dry=440))])


@pytest.fixture
def probe_with(tmp_path):
    """The probe that the settings have when these lines stand below it."""

    def loaded(lines, *, measures, units="metric"):
        file = tmp_path / "s.yaml"
        below = "".join(f"            {line}\n" for line in lines)
        file.write_text(
            f"site: {{id: orchard, timezone: Europe/Lisbon, units: {units}}}\n"
            "bins:\n  fig:\n    species: eisenia-fetida\n    zones:\n      west:\n        probes:\n          w:\n"
            f"            measures: {measures}\n            topic: w\n{below}"
        )
        return load([file], environ={}, today=TODAY).rules.bins["fig"].zones[0].probes[0]

    return loaded


def test_the_points_are_taken_by_the_settings_as_they_are_written(probe_with):
    points = probe_with(point_lines(TUBS, taken=TODAY), measures="moisture").calibration
    assert [(2700, 12.0, TODAY), (1450.25, 80.3, TODAY)] == [(p.counts, p.moisture, p.taken) for p in points]


@pytest.mark.parametrize("units", list(Units))
def test_the_offset_is_taken_by_the_settings_in_either_unit(probe_with, units):
    found = in_ice([0.4375] * 5)
    probe = probe_with([offset_line(found, units)], measures="temperature", units=str(units))
    assert found.offset == pytest.approx(probe.offset, abs=0.005)


def test_an_offset_that_is_not_needed_has_no_line():
    found = in_ice([0.0625] * 5)
    assert offset_line(found, Units.METRIC) is None
    assert "Leave it as it is." in ice_sentence(found, Units.METRIC)


def test_the_sentence_names_ice_in_the_sites_unit():
    found = in_ice([0.5] * 5)
    assert "It reads 0.5 °C in melting ice, which is 0 °C: write the line below the probe." == ice_sentence(
        found, Units.METRIC
    )
    assert "It reads 32.9 °F in melting ice, which is 32 °F: write the line below the probe." == ice_sentence(
        found, Units.US
    )


def test_each_tub_shows_its_arithmetic_and_what_the_scales_leave_open():
    assert [
        "(500 − 440) / 500 = 12 %, to 0.2 points by the scales; the probe sent 2700 there.",
        "(600 − 118) / 600 = 80 %, to 0.1 points by the scales; the probe sent 1450.25 there.",
    ] == tub_sentences(TUBS)
