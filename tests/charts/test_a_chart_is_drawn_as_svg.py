"""The SVG, read back with an XML parser."""

import xml.etree.ElementTree as ET

import pytest

from monitor.charts.curves import curve, stretches
from monitor.charts.svg import Band, Chart, Line, Mark, draw
from monitor.errors import BadValue
from monitor.readings import HOUR

SVG = "{http://www.w3.org/2000/svg}"
HEARD = [(h * HOUR, 10.0 + h) for h in (0, 1, 2, 3, 10, 11, 12, 20)]
LINE = Line("west", 0, tuple(stretches(curve(HEARD, 0, HOUR), HOUR)))


def chart(**other):
    return Chart("fig: warmth", "One day", 0, 24 * HOUR, 0.0, 40.0, lines=(LINE,), **other)


def test_a_line_is_broken_where_nothing_was_heard():
    lines = ET.fromstring(draw(chart())).findall(f".//{SVG}polyline")
    assert [4, 3, 1] == [len(line.get("points").split()) for line in lines]


def test_a_lone_reading_is_a_dot():
    (dot,) = ET.fromstring(draw(chart())).findall(f".//{SVG}circle")
    # 20 h of 24 across 720 − 44 − 8 px; 30 of 40 up 240 − 16 − 20 px.
    assert (f"{44 + 668 * 20 / 24:.1f}", f"{220 - 204 * 30 / 40:.1f}") == (dot.get("cx"), dot.get("cy"))


def test_the_spread_reaches_the_lowest_and_highest_reading():
    wide = Line("west", 0, tuple(stretches(curve([(0, 0.0), (1, 40.0)], 0, HOUR), HOUR)))
    drawn = ET.fromstring(draw(Chart("a", "b", 0, HOUR, 0.0, 40.0, lines=(wide,))))
    points = drawn.find(f".//{SVG}polygon").get("points").split()
    assert ["16.0", "220.0"] == [point.split(",")[1] for point in points]


def test_words_are_escaped_and_can_be_read_out():
    nasty = '<script>"&'
    shown = Chart(
        nasty, nasty, 0, HOUR, 0.0, 1.0,
        lines=(Line(nasty, 1, ()),), bands=(Band('x" onload="y', 0.2, 0.5),),
        marks=(Mark(1, "water", nasty, nasty),), values=((0.5, nasty),), times=((0, nasty),),
    )  # fmt: skip
    drawn = ET.fromstring(draw(shown))
    assert nasty == drawn.find(f"{SVG}title").text == drawn.find(f"{SVG}desc").text
    assert 'x" onload="y' == drawn.find(f"{SVG}rect").get("class")
    assert set() == {node.tag for node in drawn.iter() if "script" in node.tag}


def test_what_lies_outside_stays_inside_the_frame_and_marks_outside_are_left_out():
    shown = chart(
        bands=(Band("harm", -100, 100),), nights=((-HOUR, HOUR),),
        marks=(Mark(-1, "feed", "F", "fed"), Mark(24 * HOUR, "feed", "F", "fed"), Mark(0, "water", "W", "watered")),
    )  # fmt: skip
    drawn = ET.fromstring(draw(shown))
    night, harm = drawn.findall(f"{SVG}rect")
    assert ("44.0", "16.0", "668.0", "204.0") == tuple(harm.get(key) for key in ("x", "y", "width", "height"))
    assert ("44.0", f"{668 / 24:.1f}") == (night.get("x"), night.get("width"))
    assert ["W"] == ["".join(m.itertext())[-1] for m in drawn.findall(f"{SVG}text") if "mark" in m.get("class")]


def test_no_colour_is_written_and_the_same_chart_is_the_same_text():
    assert draw(chart()) == draw(chart())
    assert "#" not in draw(chart()) and "style=" not in draw(chart()) and "stroke=" not in draw(chart())


@pytest.mark.parametrize("odd", [(1, 1, 0.0, 1.0), (0, 1, 1.0, 1.0)])
def test_a_chart_without_room_is_refused(odd):
    with pytest.raises(BadValue):
        Chart("a", "b", *odd)
