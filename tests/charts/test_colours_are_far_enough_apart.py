"""Contrast by the formula of WCAG 2.2, and our colours held to level AA in both lights."""

import re

import pytest

from monitor.charts.colours import (
    DARK,
    LIGHT,
    NIGHT,
    PARTS,
    TEXT,
    contrast,
    hexed,
    luminance,
    mixed,
    sheet,
    written,
)
from monitor.charts.shapes import DASHES

BOTH = pytest.mark.parametrize("inks", [LIGHT, DARK], ids=["light", "dark"])


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2, Glossary, contrast ratio: from 1 to 21 [memory].
        ("#000000", "#ffffff", 21.0),
        ("#ffffff", "#ffffff", 1.0),
        # #767676 is the lightest grey that passes 4.5:1 on white, #777777 no longer; #949494 the lightest for 3:1
        # (common practice, no source).
        ("#767676", "#ffffff", 4.54),
        ("#777777", "#ffffff", 4.48),
        ("#949494", "#ffffff", 3.03),
    ],
)
def test_contrast_is_what_the_formula_says(one, other, ratio):
    assert ratio == pytest.approx(contrast(hexed(one), hexed(other)), abs=0.005)
    assert contrast(hexed(one), hexed(other)) == contrast(hexed(other), hexed(one))


def test_luminance_of_the_pure_colours():
    # The weights of the formula itself (sRGB, IEC 61966-2-1) [memory].
    assert [0.2126, 0.7152, 0.0722] == [
        pytest.approx(luminance(hexed(c))) for c in ("#ff0000", "#00ff00", "#0000ff")
    ]


@BOTH
def test_every_line_stands_out_from_all_it_runs_over(inks):
    for line in inks.lines:
        for ground in inks.grounds:
            assert contrast(line, ground) >= PARTS, (written(line), written(ground))


@BOTH
def test_edges_of_bands_stand_out_on_both_sides(inks):
    for edge, kind in ((inks.comfort_edge, inks.comfort), (inks.harm_edge, inks.harm)):
        for ground in (inks.paper, kind, mixed(kind, inks.night, NIGHT), mixed(inks.paper, inks.night, NIGHT)):
            assert contrast(edge, ground) >= PARTS


@BOTH
def test_words_can_be_read_where_they_stand(inks):
    assert contrast(inks.ink, inks.paper) >= TEXT
    assert contrast(inks.soft, inks.paper) >= TEXT
    # A band's word has a rim of its band's colour round it.
    assert contrast(inks.comfort_edge, inks.comfort) >= TEXT
    assert contrast(inks.harm_edge, inks.harm) >= TEXT


@BOTH
def test_marks_and_lanes_stand_out(inks):
    assert contrast(inks.ink, inks.paper) >= PARTS
    assert contrast(inks.soft, inks.paper) >= PARTS


@BOTH
def test_no_two_lines_are_told_apart_by_colour_alone(inks):
    assert len(inks.lines) == len(DASHES) == len(set(DASHES))


def test_the_style_sheet_names_every_colour_it_uses_in_each_light():
    told = sheet()
    used = set(re.findall(r"var\((--c-[a-z0-9-]+)\)", told))
    light, dark = (part for part in re.findall(r"\.chart \{ (--c-[^}]*)\}", told)[:2])
    assert used == set(re.findall(r"--c-[a-z0-9-]+", light)) == set(re.findall(r"--c-[a-z0-9-]+", dark))
    assert written(LIGHT.lines[0]) in light and written(DARK.lines[0]) in dark
    forced = told[told.index("forced-colors") :]
    assert not re.search(r"#[0-9a-f]{3}", forced), "forced colours are the reader's own"
    assert used - set(re.findall(r"--c-[a-z0-9-]+", forced)) == set()


def test_a_colour_is_written_as_it_is_read():
    assert "#0a64ff" == written(hexed("#0a64ff"))
    assert (128, 128, 128) == mixed((0, 0, 0), (255, 255, 255), 0.5)
