"""The SVG, read back with an XML parser."""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest

from monitor.charts.chart import Band, Chart, Fan, Kind, Lane, Likely, Line, Mark, Panel, Span, together
from monitor.charts.curves import curve, stretches
from monitor.charts.layout import NARROW, STRIP, WIDE, Layout
from monitor.charts.shapes import SHAPES
from monitor.charts.svg import draw
from monitor.errors import BadValue
from monitor.readings import HOUR

SVG = "{http://www.w3.org/2000/svg}"
HEARD = [(h * HOUR, 10.0 + h) for h in (0, 1, 2, 3, 10, 11, 12, 20)]
LINE = Line("west", 0, tuple(stretches(curve(HEARD, 0, HOUR), HOUR)))
VALUES = tuple((v, f"{v}") for v in (0, 10, 20, 30, 40))


def chart(*, lines=(LINE,), bands=(), fans=(), low=0.0, high=40.0, **other):
    panel = Panel("Warmth, °C", low, high, VALUES, lines=lines, bands=bands, fans=fans)
    return Chart("fig: warmth", "One day", 0, 24 * HOUR, (panel,), **other)


def read(one, size=WIDE):
    return ET.fromstring(draw(one, size))


def spots(node):
    return [tuple(map(float, spot.split(","))) for spot in node.get("points").split()]


@pytest.mark.parametrize("size", [WIDE, NARROW, STRIP])
def test_the_numbers_of_a_line_can_be_read_off_its_picture(size):
    one = chart()
    where = Layout(one, size)
    left, right, (top, foot) = where.left, where.right, where.panels[0]
    drawn = [
        spot
        for line in read(one, size).findall(f".//{SVG}g[@class='line line-0']/{SVG}polyline")
        for spot in spots(line)
    ]
    found = [
        ((x - left) / (right - left) * 24, (foot - y) / (foot - top) * 40)
        for x, y in drawn
        if x >= left and y <= foot
    ]
    expected = [(at / HOUR, value) for at, value in HEARD if at != 20 * HOUR]
    # A tenth of a px is what is written.
    assert len(expected) == len(found)
    for (hour, value), (x, y) in zip(expected, found, strict=True):
        assert hour == pytest.approx(x, abs=0.06 * 24 / (right - left))
        assert value == pytest.approx(y, abs=0.06 * 40 / (foot - top))


def test_a_line_is_broken_where_nothing_was_heard():
    lines = read(chart(), replace(STRIP, key=False)).findall(f".//{SVG}polyline")
    assert [4, 3] == [len(spots(line)) for line in lines]


def test_a_lone_reading_is_a_dot():
    where = Layout(chart(), WIDE)
    (dot,) = read(chart()).findall(f".//{SVG}circle")
    top, foot = where.panels[0]
    x, y = where.left + (where.right - where.left) * 20 / 24, foot - (foot - top) * 30 / 40
    assert (f"{x:.1f}", f"{y:.1f}") == (dot.get("cx"), dot.get("cy"))


def test_the_spread_reaches_the_lowest_and_highest_reading():
    wide = Line("west", 0, tuple(stretches(curve([(0, 0.0), (1, 40.0)], 0, HOUR), HOUR)))
    one = chart(lines=(wide,))
    spread = read(one).find(f".//{SVG}polygon[@class='spread']")
    top, foot = Layout(one, WIDE).panels[0]
    assert {top, foot} == {y for _, y in spots(spread)}
    assert None is read(chart()).find(f".//{SVG}polygon[@class='spread']"), "single readings have no spread"


def test_words_are_escaped_and_can_be_read_out():
    nasty = "<script>\"&'"
    panel = Panel(nasty, 0.0, 1.0, ((0.5, nasty),), lines=(Line(nasty, 1, ()),), bands=(Band("comfort", 0.2, 0.5, nasty),),
                  fans=(Fan(nasty, 0, (Likely(1, 0.1, 0.2, 0.3), Likely(2, 0.1, 0.2, 0.3))),))  # fmt: skip
    lanes = (Lane(nasty, (Mark(1, Kind.WATER, nasty),), (Span(1, 2, nasty),)),)
    shown = Chart(nasty, nasty, 0, HOUR, (panel,), lanes, times=((0, nasty),), now=(HOUR // 2, nasty))
    for alone in (False, True):
        drawn = ET.fromstring(draw(shown, alone=alone, classes='x" onload="y'))
        assert nasty == drawn.find(f"{SVG}title").text == drawn.find(f"{SVG}desc").text
        assert 'chart x" onload="y' == drawn.get("class")
        assert set() == {node.tag for node in drawn.iter() if "script" in node.tag}
        assert {None} == {node.get("onload") for node in drawn.iter()}
        assert 13 == sum(nasty == node.text for node in drawn.iter())


def test_what_lies_outside_stays_inside_the_frame_and_marks_outside_are_left_out():
    marks = (Mark(-1, Kind.FEED, "fed"), Mark(24 * HOUR, Kind.FEED, "fed"), Mark(0, Kind.WATER, "watered"))
    shown = chart(
        bands=(Band("harm", -100, 100),),
        nights=((-HOUR, HOUR), (30 * HOUR, 31 * HOUR)),
        lanes=(Lane("water", marks),),
    )
    where = Layout(shown, WIDE)
    top, foot = where.panels[0]
    drawn = read(shown)
    (harm,) = drawn.findall(f".//{SVG}rect[@class='harm']")
    (night,) = drawn.findall(f".//{SVG}rect[@class='night']")
    expected = where.left, top, where.right - where.left, foot - top
    assert [f"{v:.1f}" for v in expected] == [harm.get(key) for key in ("x", "y", "width", "height")]
    assert (f"{where.left:.1f}", f"{(where.right - where.left) / 24:.1f}") == (night.get("x"), night.get("width"))
    lane = drawn.find(f".//{SVG}g[@class='lane']")
    assert ["watered"] == [title.text for title in lane.findall(f".//{SVG}title")]
    assert [Kind.WATER] == shown.kinds


def test_a_band_without_an_end_has_no_line_there():
    shown = chart(bands=(Band("harm", -math.inf, 5), Band("comfort", 10, 20, "comfort")))
    drawn = read(shown)
    assert (1, 2) == tuple(
        len(drawn.findall(f".//{SVG}path[@class='{kind}-edge']")) for kind in ("harm", "comfort")
    )
    assert ["comfort"] == [t.text for t in drawn.findall(f".//{SVG}text") if "halo" in (t.get("class") or "")]


def test_what_is_expected_is_drawn_from_its_lowest_to_its_highest():
    fan = Fan("west", 0, tuple(Likely(h * HOUR, 10.0, 15.0, 20.0) for h in range(20, 24)))
    one = chart(fans=(fan,))
    top, foot = Layout(one, WIDE).panels[0]
    drawn = read(one)
    shades = spots(drawn.find(f".//{SVG}polygon[@class='fan']"))
    assert {f"{foot - (foot - top) / 2:.1f}", f"{foot - (foot - top) / 4:.1f}"} == {f"{y:.1f}" for _, y in shades}
    assert 4 == len(spots(drawn.find(f".//{SVG}polyline[@class='middle']")))


def test_no_two_kinds_of_mark_have_one_shape():
    assert set(Kind) == set(SHAPES)
    assert len(Kind) == len({(one.way, one.corners) for one in SHAPES.values()})
    # Shape and word: the key says every word that is drawn.
    lanes = (Lane("all", tuple(Mark(n * HOUR, kind, "x") for n, kind in enumerate(Kind))),)
    words = {t.text for t in read(chart(lanes=lanes)).findall(f".//{SVG}text")}
    assert {str(kind) for kind in Kind} <= words


def test_marks_of_one_kind_that_would_lie_on_each_other_are_one_with_a_number():
    marks = [
        Mark(0, Kind.WATER, "a"),
        Mark(5, Kind.FEED, "b"),
        Mark(9, Kind.WATER, "c"),
        Mark(10, Kind.WATER, "d"),
    ]
    assert [
        Mark(0, Kind.WATER, "a; c", 2),
        Mark(5, Kind.FEED, "b"),
        Mark(10, Kind.WATER, "d"),
    ] == together(marks, 10)
    lane = read(chart(lanes=(Lane("w", (Mark(0, Kind.WATER, "a; c", 2),)),))).find(f".//{SVG}g[@class='lane']")
    assert ["w", "2"] == [t.text for t in lane.findall(f".//{SVG}text")]


def test_marks_of_different_kinds_at_one_time_are_all_seen():
    kinds = (Kind.BEGAN, Kind.HARM, Kind.SEEN, Kind.OVER, Kind.ENDED)
    where = Layout(chart(lanes=(Lane("alarms", tuple(Mark(HOUR, kind, "x") for kind in kinds)),)), NARROW)
    true = where.x(HOUR)
    assert [0, 11, 22, 33, 33] == [x - true for x, _ in where.marks(0)], (
        "none is moved so far that it tells another time"
    )
    last = Layout(chart(lanes=(Lane("alarms", tuple(Mark(24 * HOUR - 1, kind, "x") for kind in kinds)),)), NARROW)
    assert all(x <= last.right for x, _ in last.marks(0))


def test_times_without_room_have_a_tick_and_no_words():
    times = tuple((h * HOUR, f"{h:02}:00 o'clock") for h in range(24))
    shown = [words for _, _, words in Layout(chart(times=times), NARROW).times()]
    assert 24 == len(shown)
    assert 2 <= sum(map(bool, shown)) <= 5
    places = [(x, len(words)) for _, x, words in Layout(chart(times=times), NARROW).times() if words]
    for (a, n), (b, m) in pairwise(places):
        assert b - a >= (n + m) / 2 * NARROW.letter


def test_now_is_a_line_where_it_lies_inside():
    assert None is not read(chart(now=(HOUR, "now"))).find(f".//{SVG}path[@class='now']")
    assert None is read(chart(now=(24 * HOUR, "now"))).find(f".//{SVG}path[@class='now']")


def test_no_colour_is_written_in_a_page_and_the_same_chart_is_the_same_text():
    assert draw(chart()) == draw(chart())
    assert "#" not in draw(chart()) and "style=" not in draw(chart()) and "stroke=" not in draw(chart())
    assert "prefers-color-scheme" in draw(chart(), alone=True)


def test_a_chart_without_room_is_refused():
    for start, end in ((1, 1), (2, 1)):
        with pytest.raises(BadValue):
            Chart("a", "b", start, end)
    for low, high in ((1.0, 1.0), (2.0, 1.0), (0.0, math.inf), (math.nan, 1.0)):
        with pytest.raises(BadValue):
            Panel("a", low, high)
    with pytest.raises(BadValue):
        Band("shade", 0, 1)
    with pytest.raises(BadValue):
        Band("harm", 1, 1)
    with pytest.raises(BadValue):
        Likely(0, 2.0, 1.0, 3.0)
