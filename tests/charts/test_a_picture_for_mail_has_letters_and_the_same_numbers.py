"""The PNG of a chart, decoded by pillow: lines where the numbers are, letters as drawn."""

import io
import string

import pytest
from PIL import Image

from monitor.charts.chart import Band, Chart, Fan, Kind, Lane, Likely, Line, Mark, Panel, Span
from monitor.charts.colours import LIGHT
from monitor.charts.curves import Point, curve, stretches
from monitor.charts.layout import Layout
from monitor.charts.letters import ROWS, STAND, _glyph, _letters, wide, write
from monitor.charts.png import Canvas
from monitor.charts.raster import DENSITY, MAIL, PALETTE, PLACE, _dashed, picture
from monitor.readings import HOUR

HEARD = [(h * HOUR, 10.0 + h) for h in range(24) if not 8 <= h < 14]
LINE = Line("west", 0, tuple(stretches(curve(HEARD, 0, HOUR), HOUR)))


def chart(*, lines=(LINE,), bands=(), fans=(), **other):
    panel = Panel(
        "Warmth, °C", 0.0, 40.0, ((0.0, "0"), (20.0, "20"), (40.0, "40")), lines=lines, bands=bands, fans=fans
    )
    return Chart("Fig tub", "One day", 0, 24 * HOUR, (panel,), **other)


def decoded(one):
    with Image.open(io.BytesIO(picture(one))) as found:
        found.load()
        return found.convert("RGB")


def column(found, at, one, colour):
    """The values at which a colour stands at a time."""
    where = Layout(one, MAIL)
    x = round(where.x(at) * DENSITY)
    top, foot = where.panels[0]
    dots = [y for y in range(round(top * DENSITY), round(foot * DENSITY)) if found.getpixel((x, y)) == colour]
    return [(foot - y / DENSITY) / (foot - top) * 40 for y in dots]


def test_the_numbers_of_a_line_can_be_read_off_its_picture():
    found, ink = decoded(chart()), LIGHT.lines[0]
    for hour in (1, 3, 7, 15, 20, 22):
        values = column(found, hour * HOUR, chart(), ink)
        assert 10 + hour == pytest.approx(sum(values) / len(values), abs=0.25), hour
    for hour in (9, 11, 13):
        assert [] == column(found, hour * HOUR, chart(), ink), "nothing was heard"


def test_the_spread_reaches_the_lowest_and_highest_reading():
    line = Line("west", 0, ((Point(0, 10 * HOUR, 5.0, 20.0, 35.0), Point(10 * HOUR, 24 * HOUR, 5.0, 20.0, 35.0)),))
    one = chart(lines=(line,))
    values = column(decoded(one), 11 * HOUR, one, PALETTE[PLACE["spread-0"]])
    assert (5.0, 35.0) == (pytest.approx(min(values), abs=0.3), pytest.approx(max(values), abs=0.3))


def test_bands_nights_and_gaps_have_their_ground():
    one = chart(lines=(), bands=(Band("comfort", 20, 30, "comfort"), Band("harm", -9, 5)), nights=((0, 6 * HOUR),))
    found = decoded(one)
    day, night = (
        column(found, 12 * HOUR, one, LIGHT.comfort),
        column(found, 3 * HOUR, one, PALETTE[PLACE["comfort-night"]]),
    )
    for values in (day, night):
        assert (20, 30) == (pytest.approx(min(values), abs=0.5), pytest.approx(max(values), abs=0.5))
    assert 5 == pytest.approx(max(column(found, 12 * HOUR, one, LIGHT.harm)), abs=0.5)


def test_what_is_expected_and_what_happened_are_there():
    fan = Fan("west", 1, (Likely(18 * HOUR, 5.0, 15.0, 25.0), Likely(24 * HOUR, 5.0, 15.0, 25.0)))
    lanes = (
        Lane(
            "water",
            (Mark(2 * HOUR, Kind.WATER, "x"), Mark(9 * HOUR, Kind.WATER, "y", 2)),
            (Span(4 * HOUR, 6 * HOUR, "on"),),
        ),
    )
    one = chart(lines=(), fans=(fan,), lanes=lanes, now=(12 * HOUR, "now"), times=((6 * HOUR, "06:00"),))
    found, where = decoded(one), Layout(one, MAIL)
    values = column(found, 21 * HOUR, one, PALETTE[PLACE["fan-1"]])
    assert (5, 25) == (pytest.approx(min(values), abs=0.3), pytest.approx(max(values), abs=0.3))
    y = round(where.lanes[0] * DENSITY)
    spots = {
        name: found.getpixel((round(where.x(h * HOUR) * DENSITY), y))
        for name, h in (("water", 2), ("span", 5), ("bare", 7))
    }
    assert {"water": LIGHT.ink, "span": LIGHT.soft, "bare": LIGHT.grid} == spots


def test_the_axis_says_its_numbers():
    one = chart(lines=())
    found, where = decoded(one), Layout(one, MAIL)
    mask = Canvas(wide("20", 3), 3 * STAND, ((255, 255, 255), LIGHT.soft))
    write(mask, (0, 0), "20", colour=1, scale=3)
    with Image.open(io.BytesIO(mask.png())) as letters:
        expected = letters.convert("RGB")
    left = round((where.left - 5) * DENSITY - wide("20", 3))
    top = round(where.y(0, 20.0) * DENSITY - 3 * STAND / 2)
    cut = found.crop((left, top, left + expected.width, top + expected.height))
    inked = [
        [(x, y) for x in range(i.width) for y in range(i.height) if i.getpixel((x, y)) == LIGHT.soft]
        for i in (expected, cut)
    ]
    assert inked[0] == inked[1] != []


def test_every_printable_letter_is_drawn_and_no_two_are_alike():
    known = _letters()
    for one in string.printable.strip() + "°−–·…×½¼¾":
        rows = known[one]
        assert 1 == len({len(row) for row in rows}), one
        assert len(rows) <= ROWS and set("".join(rows)) <= {"#", "."}, one
    shapes = {}
    for one, rows in known.items():
        full = tuple(rows) + ("." * len(rows[0]),) * (ROWS - len(rows))
        shapes.setdefault(full, []).append(one)
    alike = {"".join(sorted(same)) for same in shapes.values() if len(same) > 1}
    # A dash is a dash, a quotation mark a quotation mark, and our nought is an O: as in many a type.
    assert {"0O", "−–", '"“”', "'’"} == {"".join(sorted(a, key="0O−–\"“”'’".index)) for a in alike}


def test_a_letter_without_its_accent_is_better_than_a_box():
    assert wide("Hölö") == wide("Holo")
    assert wide("ß") == wide("ss")
    assert wide("漢") == len(_glyph("漢")[0])
    assert wide("a b") == wide("a") + 1 + 3 + 1 + wide("b")
    assert 0 == wide("")


def test_a_dash_covers_what_its_pattern_says():
    inked = _dashed([(0, 0), (10, 0), (10, 10)], [4, 2])
    length = sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in inked)
    assert 4 + 4 + 4 + 2 == pytest.approx(length)
    assert [((0, 0), (10, 0)), ((10, 0), (10, 10))] == _dashed([(0, 0), (10, 0), (10, 10)], [])


def test_hostile_and_endless_names_break_nothing():
    long = "fig " * 200 + "\x00\n\u202e"
    one = Chart(long, long, 0, HOUR, (Panel(long, 0.0, 1.0, ((0.5, long[:30]),), lines=(Line(long, 99, ()),)),))
    assert picture(one).startswith(b"\x89PNG")


def test_the_same_chart_is_the_same_picture():
    assert picture(chart()) == picture(chart())
