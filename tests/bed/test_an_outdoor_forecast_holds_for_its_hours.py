"""What is kept of forecasts of the air outdoors, and what of it holds for an hour."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bed.outside import LOOKS_BACK, TOO_OLD, Outside, outside_of, taken, written
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, MINUTE

NOW = 1_795_600_800_000 // HOUR * HOUR


def hours(first, count, start=0.0, step=1.0):
    return [(first + n * HOUR, start + n * step) for n in range(count)]


def of(found, received=NOW):
    return taken(None, found, received)


@given(
    st.lists(st.floats(-40, 40), min_size=3, max_size=40),
    st.integers(0, 2 * HOUR),
    st.integers(MINUTE, 3 * HOUR),
)
def test_a_mean_is_the_area_under_straight_lines_as_numpy_reckons_it(values, start, length):
    one = of([(NOW + n * HOUR, v) for n, v in enumerate(values)])
    end = start + length
    if end > (len(values) - 1) * HOUR:
        assert one.mean(NOW + start, NOW + end) is None
        return
    at = np.unique([start, end, *(n * HOUR for n in range(len(values)) if start < n * HOUR < end)]).astype(float)
    warmth = np.interp(at, np.arange(len(values)) * float(HOUR), values)
    area = float(((warmth[1:] + warmth[:-1]) / 2 * np.diff(at)).sum())
    assert pytest.approx(area / length, abs=1e-9) == one.mean(NOW + start, NOW + end)


def test_the_next_day_is_24_means_and_nothing_less():
    one = of(hours(NOW, 26))
    assert pytest.approx([n + 0.5 for n in range(24)]) == one.next_day(NOW)
    assert one.next_day(NOW + 2 * HOUR) is None  # it covers 23 of them


def test_one_that_came_later_than_an_hour_is_nothing_that_was_known_then():
    one = of(hours(NOW - 2 * DAY, 120), NOW)
    assert one.next_day(NOW) is not None
    assert one.next_day(NOW - HOUR) is None


def test_after_a_day_it_is_too_old():
    one = of(hours(NOW, 120))
    assert one.next_day(NOW + TOO_OLD) is not None
    assert one.next_day(NOW + TOO_OLD + HOUR) is None


def test_what_is_new_lies_over_what_was_and_the_past_is_kept_for_two_days():
    old = of(hours(NOW - HOUR, 100, start=5.0, step=0.0))
    new = taken(old, hours(NOW + DAY, 48, start=9.0, step=0.0), NOW + DAY)
    assert (5.0, 9.0) == (new.mean(NOW, NOW + HOUR), new.mean(NOW + DAY, NOW + DAY + HOUR))
    assert NOW + DAY == new.received
    later = taken(new, hours(NOW + 4 * DAY, 48), NOW + 4 * DAY)
    assert later.hours[0][0] >= NOW + 4 * DAY - LOOKS_BACK


def test_the_same_hours_again_are_no_newer_than_they_were():
    one = of(hours(NOW, 48))
    assert one is taken(one, hours(NOW, 48), NOW + 6 * HOUR)


def test_between_hours_far_apart_nothing_is_known():
    one = of([(NOW, 1.0), (NOW + HOUR, 1.0), (NOW + 9 * HOUR, 1.0)])
    assert 1.0 == one.mean(NOW, NOW + HOUR)
    assert one.mean(NOW, NOW + 2 * HOUR) is None


def test_a_forecast_of_another_month_is_none():
    with pytest.raises(BadValue, match="no hour of it lies in the next days"):
        of(hours(NOW + 40 * DAY, 48))


def test_it_is_read_back_as_it_was_written():
    one = of([(NOW + n * HOUR, 0.1 * n) for n in range(30)])
    assert one == outside_of(written(one))


@pytest.mark.parametrize(
    "body",
    ["", "[]", '{"received": 1, "first": 1, "hours": []}', '{"received": 1, "first": 1, "hours": [[2, 1.0], [1, 1.0]]}',
     '{"received": 1, "hours": [[1, 1.0]]}', '{"received": 1, "first": 1, "hours": [[1, NaN]]}'],
)  # fmt: skip
def test_what_is_no_forecast_is_refused(body):
    with pytest.raises(BadValue, match="this is no outdoor forecast"):
        outside_of(body)


def test_the_same_is_an_outside():
    assert Outside(NOW, NOW, ((NOW, 1.0), (NOW + HOUR, 2.0))) == of(hours(NOW, 2, 1.0))
