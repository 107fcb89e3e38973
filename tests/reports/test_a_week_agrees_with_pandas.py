"""The week's figures on a real year (JFK 2013, hourly, with its gaps) against pandas on a grid of a minute."""

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.diary import Deed, Entry
from monitor.notify.weekly import week_before
from monitor.readings import HOUR, MINUTE, Reading
from monitor.reports.week import monday_of, week_facts
from monitor.reports.week_mats import mat_weeks
from monitor.settings import load
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch
from parts.weather import new_york

SETTINGS = """
site: {id: yard, timezone: America/New_York}
broker: {url: mqtt://127.0.0.1}
energy: {price: 0.28, currency: EUR}
bins:
  fig:
    species: eisenia-fetida
    limits: {temperature: {comfort: 8..24 °C, harm: [{below: 0 °C}, {above: 30 °C}]}}
    zones: {bed: {probes: {fig-bed: {measures: temperature, topic: probes/fig-bed, every: 1 h}}}}
mats:
  fig-mat: {power: 20 W, control: hand, warms: [fig.bed]}
  fig-plug: {power: 20 W, control: thermostat, warms: [fig.bed], state: {topic: plugs/fig, sends: W}}
"""
DAY = pd.Timedelta(days=1)
LOW, HIGH, HARM_LOW, HARM_HIGH = 8.0, 24.0, 0.0, 30.0
WEEKS = [
    date(2013, 1, 7),
    date(2013, 3, 4),  # 10 March: the clocks go forward, 167 h
    date(2013, 5, 6),  # holds a real glitch of the station
    date(2013, 7, 15),
    date(2013, 10, 28),  # 3 November: they go back, 169 h
    date(2013, 12, 9),
]


def ms(stamp):
    return round(stamp.timestamp() * 1000)


@pytest.fixture(scope="module")
def rules(tmp_path_factory):
    file = tmp_path_factory.mktemp("week") / "settings.yaml"
    file.write_text(SETTINGS)
    return load([Path(file)], environ={}).rules


@pytest.fixture(scope="module")
def weather():
    return new_york("JFK")


@pytest.fixture(scope="module")
def store(weather):
    found = MemoryStore()
    found.keep(
        Batch(readings=[Reading("fig-bed", ms(at), round(value, 4), ms(at)) for at, value in weather.items()])
    )
    return found


def by_pandas(weather, first):
    """Hours and degree-hours of the minutes between two readings at most two hours and a half apart."""
    start = pd.Timestamp(first, tz="America/New_York")
    end = pd.Timestamp(first + pd.Timedelta(days=7), tz="America/New_York")
    around = weather[(weather.index >= start - DAY) & (weather.index <= end + DAY)].round(4)
    told = around[(around.index >= start) & (around.index < end)]
    grid = around.resample("1min").interpolate()
    gap = around.index.to_series().diff().shift(-1).reindex(grid.index, method="ffill")
    middle = ((grid + grid.shift(-1)) / 2)[gap <= pd.Timedelta(hours=2.5)].dropna()
    middle = middle[(middle.index >= start) & (middle.index < end)]

    def hours(mask):
        return float(mask.sum()) / 60

    def depth(apart):
        return float(np.clip(apart, 0, None).sum()) / 60

    return {
        "length": (end - start) / pd.Timedelta(hours=1),
        "known": hours(middle > -999),
        "comfort": (hours(middle < LOW), hours(middle > HIGH), depth(LOW - middle), depth(middle - HIGH)),
        "harm": (hours(middle < HARM_LOW), hours(middle > HARM_HIGH), depth(HARM_LOW - middle), depth(middle - HARM_HIGH)),
        "lowest": (float(told.min()), ms(told.idxmin())),
        "highest": (float(told.max()), ms(told.idxmax())),
    }  # fmt: skip


@pytest.mark.parametrize("first", WEEKS, ids=str)
def test_hours_degree_hours_and_extremes_are_those_of_pandas(rules, store, weather, first):
    facts = week_facts(store, rules, ms(pd.Timestamp("2014-02-01", tz="UTC")), first=first)
    expected, zone = by_pandas(weather, first), facts["bins"][0]["zones"][0]
    assert expected["length"] == facts["hours"]
    assert expected["known"] == pytest.approx(zone["known"], abs=0.02)
    assert expected["length"] == pytest.approx(zone["known"] + zone["silent"], abs=0.002)
    for name in ("comfort", "harm"):
        band = zone[name]
        # a crossing falls within a minute of the grid: at most as many minutes off as there are crossings
        assert expected[name] == pytest.approx(
            (band["below"], band["above"], band["short"], band["beyond"]), abs=0.25
        )
        assert zone["known"] == pytest.approx(band["below"] + band["inside"] + band["above"], abs=0.002)
    for name in ("lowest", "highest"):
        value, at = expected[name]
        assert value == pytest.approx(zone[name]["value"], abs=1e-4)
        assert at == ms(pd.Timestamp(zone[name]["at"]))


def test_the_year_has_weeks_of_every_kind(rules, store, weather):
    found = [by_pandas(weather, first) for first in WEEKS]
    assert {167.0, 168.0, 169.0} == {one["length"] for one in found}
    assert any(one["harm"][0] > 1 for one in found) and any(one["comfort"][1] > 1 for one in found)
    assert any(one["known"] < one["length"] - 1.5 for one in found)


def test_the_newest_week_that_is_over_is_told_and_one_that_is_not_says_so(rules, store):
    monday = ms(pd.Timestamp("2013-07-22 00:00", tz="America/New_York"))
    assert date(2013, 7, 15) == week_before(monday, "America/New_York")
    assert date(2013, 7, 8) == week_before(monday - 1, "America/New_York")
    facts = week_facts(store, rules, monday + 6 * HOUR, first=date(2013, 7, 22))
    assert (False, 6.0) == (facts["over"], facts["hours"])
    assert date(2013, 7, 22) == monday_of(date(2013, 7, 28))


def mats(rules, store, start, end, diary=()):
    return {one["id"]: one for one in mat_weeks(store, rules, start, end, diary=list(diary))}


def entry(at, deed):
    return Entry(at, at, "ana", deed, "mat:fig-mat", "")


def test_a_mat_of_20_w_that_is_on_for_84_h_draws_1_68_kwh_which_cost_47_cents(rules):
    # power × time, 1 kWh = 3.6 MJ (SI Brochure, 9th ed. [memory]): 20 W × 84 h = 1680 Wh; 1.68 × 0.28 = 0.4704
    start = 1_700_000_000_000
    diary = [
        entry(start - HOUR, Deed.MAT_OFF),
        entry(start + 10 * HOUR, Deed.MAT_ON),
        entry(start + 94 * HOUR, Deed.MAT_OFF),
    ]
    one = mats(rules, MemoryStore(), start, start + 168 * HOUR, diary)["fig-mat"]
    assert (84.0, 168.0, 1.68, 0.4704) == (one["hours"], one["known"], one["kwh"], one["cost"])
    assert "on for 84 of 168 h, by the diary; 1.7 kWh, 0.47 EUR" in one["sentence"]


def test_before_the_first_word_of_the_diary_nothing_is_known(rules):
    start = 1_700_000_000_000
    one = mats(rules, MemoryStore(), start, start + 168 * HOUR, [entry(start + 100 * HOUR, Deed.MAT_ON)])[
        "fig-mat"
    ]
    assert (68.0, 68.0) == (one["hours"], one["known"])
    assert "of 100 h nothing is known" in one["sentence"]
    assert (
        "nobody says how long it was on" in mats(rules, MemoryStore(), start, start + HOUR)["fig-mat"]["sentence"]
    )


def test_a_plug_that_tells_watts_is_summed_and_nothing_is_held_across_its_silence(rules):
    # 20 W for 2 h, then 0 W for 1 h, then silence for 3 h: 40 Wh, of 3 h everything is known
    start, store = 1_700_000_000_000, MemoryStore()
    told = [(10 * n, 20.0 if n < 12 else 0.0) for n in range(19)]
    store.keep(Batch(readings=[Reading("mat:fig-plug", start + m * MINUTE, w, start) for m, w in told]))
    one = mats(rules, store, start, start + 6 * HOUR)["fig-plug"]
    assert (2.0, 3.0, 0.04) == (one["hours"], one["known"], one["kwh"])
    assert ("plug", False) == (one["told_by"], one["at_most"])
