import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.errors import BadValue


@pytest.mark.parametrize(
    ("things", "text"),
    [
        ([], ""),
        (["fig"], "fig"),
        (["fig", "plum"], "fig and plum"),
        (["fig", "plum", "sloe"], "fig, plum and sloe"),
    ],
)
def test_a_list_is_joined_as_it_is_said(things, text):
    assert text == words.joined(things)


def test_one_is_singular_and_everything_else_plural():
    assert "1 bin" == words.amount(1, "bin")
    assert "0 bins" == words.amount(0, "bin")
    assert "3 bins" == words.amount(3, "bin")
    assert "2 boxes" == words.amount(2, "box", "boxes")


def test_a_line_that_fits_is_left_alone():
    line = "x" * 90
    assert line == words.shorten(line)


def test_a_longer_line_is_cut_at_a_word_and_says_so():
    assert "Fig is cold: put…" == words.shorten("Fig is cold: put the mat on by 21:00", 17)
    assert "Fig is cold…" == words.shorten("Fig is cold: put the mat on by 21:00", 16)
    assert "Fig is cold…" == words.shorten("Fig is cold, put the mat on", 13)


def test_a_single_word_too_long_is_cut_inside():
    assert "xxxx…" == words.shorten("x" * 20, 5)


def test_no_line_can_be_cut_to_nothing():
    with pytest.raises(BadValue):
        words.shorten("fig", 0)


@given(st.text(st.sampled_from("ab ,"), max_size=60).map(str.strip), st.integers(2, 40))
def test_what_is_kept_is_the_beginning_and_never_too_long(line, length):
    short = words.shorten(line, length)
    assert len(short) <= length
    assert line.startswith(short.removesuffix("…"))
    assert (short == line) == (len(line) <= length)
