"""The PNG, decoded by pillow and looked at dot by dot."""

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from monitor.charts.png import Canvas
from monitor.errors import BadValue

PAPER, INK, BAND = (255, 255, 255), (20, 30, 40), (200, 220, 190)


def canvas(width=40, height=30):
    return Canvas(width, height, (PAPER, INK, BAND))


def decoded(drawn):
    with Image.open(io.BytesIO(drawn.png())) as picture:
        picture.load()
        return picture.convert("RGB")


def inked(picture):
    return {(x, y) for x in range(picture.width) for y in range(picture.height) if picture.getpixel((x, y)) == INK}


def test_a_box_is_where_it_was_put_and_nowhere_else():
    drawn = canvas()
    drawn.box(3, 4, 6, 6, colour=1)
    picture = decoded(drawn)
    assert ((40, 30), PAPER) == (picture.size, picture.getpixel((0, 0)))
    assert {(x, y) for x in (3, 4, 5) for y in (4, 5)} == inked(picture)


@given(*[st.integers(-50, 80)] * 4)
def test_what_lies_outside_is_left_out(left, top, right, foot):
    drawn = canvas()
    drawn.box(left, top, right, foot, colour=1)
    expected = {(x, y) for x in range(40) for y in range(30) if left <= x < right and top <= y < foot}
    assert expected == inked(decoded(drawn))


@given(*[st.integers(0, 29)] * 4)
def test_a_line_is_unbroken_and_reaches_both_ends(x, y, to_x, to_y):
    drawn = canvas()
    drawn.line((x, y), (to_x, to_y), colour=1)
    found = inked(decoded(drawn))
    assert {(x, y), (to_x, to_y)} <= found
    assert max(abs(to_x - x), abs(to_y - y)) + 1 == len(found)
    for a, b in found - {(to_x, to_y)}:
        # Every dot touches another, and lies within half a dot of the true line.
        assert any(max(abs(a - c), abs(b - d)) == 1 for c, d in found - {(a, b)})
        assert abs((to_x - x) * (b - y) - (to_y - y) * (a - x)) <= max(abs(to_x - x), abs(to_y - y)) / 2


def test_a_thick_line_is_as_thick_as_asked():
    drawn = canvas()
    drawn.line((5, 10), (20, 10), colour=1, thick=3)
    assert {9, 10, 11} == {y for x, y in inked(decoded(drawn)) if x == 12}


def test_the_same_dots_are_the_same_bytes():
    assert canvas().png() == canvas().png()


def test_what_cannot_be_drawn_is_refused_and_nothing_has_changed():
    drawn = canvas()
    before = drawn.png()
    for colour in (-1, 3):
        with pytest.raises(BadValue):
            drawn.dot(1, 1, colour)
    assert before == drawn.png()
    for width, height, palette in ((0, 1, [PAPER]), (1, 4097, [PAPER]), (1, 1, []), (1, 1, [PAPER] * 257)):
        with pytest.raises(BadValue):
            Canvas(width, height, palette)


@given(st.lists(st.tuples(st.floats(-5, 45), st.floats(-5, 35)), min_size=3, max_size=7))
def test_a_polygon_holds_the_dots_whose_middle_lies_inside(corners):
    # Even-odd rule by pillow's own geometry would round; each dot's middle is judged by a ray instead.
    drawn = canvas()
    drawn.polygon(corners, colour=1)
    edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))

    def crossed(x, y):
        cuts = [a + (y - b) * (c - a) / (d - b) for (a, b), (c, d) in edges if (b <= y) != (d <= y)]
        return {sum(cut < x + near for cut in cuts) % 2 == 1 for near in (-1e-6, 1e-6)}

    found = inked(decoded(drawn))
    for x in range(40):
        for y in range(30):
            assert ((x, y) in found) in crossed(x + 0.5, y + 0.5)
