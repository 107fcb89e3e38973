"""How long until a bed is dry, and how much water then: by hand what the product reckons, and when it refuses to."""

import math
import re
from dataclasses import replace

import pytest

from monitor.advice.dryness import Wet, dryness
from monitor.diary import Deed, Entry
from monitor.readings import DAY, HOUR
from monitor.rules import Bedding, Vessel
from monitor.science.moisture import Firm
from monitor.science.squeeze import Feel, band
from monitor.science.water import dry_basis, wet_basis
from parts import orchard
from parts.orchard import ms

NOW = ms("12:00")
FIG = replace(orchard.FIG, vessel=Vessel("tub", floor=0.3, drains=True))
LOW = 70.0
"""The dry limit of Eudrilus (Viljoen & Reinecke 1989)."""


def entry(days, deed, amount=None, unit="L"):
    at = NOW - round(days * DAY)
    return Entry(at, at, "ana", deed, "bin:fig", "", amount=amount, unit=unit if amount else "", number=1)


def drying(rate, *, ends_at, days=20.0):
    """Medians four times a day, of a bed that loses `rate` kg/kg a day and stands at `ends_at` % now."""
    x = dry_basis(ends_at)
    return [(NOW - round(ago * DAY), wet_basis(x + rate * ago)) for ago in _steps(days)]


def _steps(days):
    return [n / 4 for n in range(round(days * 4), -1, -1)]


def wet(medians, *entries, **more):
    what = {"mass": 35.0}
    return Wet(
        bed=FIG,
        medians=medians,
        entries=sorted(entries, key=lambda e: e.at),
        at=NOW,
        tz="Europe/Lisbon",
        **(what | more),
    )


def test_days_follow_from_the_rate_and_the_bins_own_limit():
    """From 74 % (X 2.846) to 70 % (2.333) at 0.06 a day are 8.5 days; a day is taken off, since the line is late."""
    one = dryness(wet(drying(0.06, ends_at=74.0)))
    assert pytest.approx(8.5 - 1, abs=0.7) == one.days[0]
    assert one.days[1] <= one.days[0] <= one.days[2]
    assert "in about a week it is at its dry limit of 70 %" == one.words


def test_at_its_limit_it_says_so():
    assert "it is at its dry limit of 70 %" == dryness(wet(drying(0.06, ends_at=69.5))).words


def test_a_bed_that_loses_nothing_is_not_told_a_day():
    one = dryness(wet([(at, 78.0) for at, _ in drying(0.0, ends_at=78.0)]))
    assert math.isinf(one.days[2])
    assert "not for months" in one.words or "three weeks" in one.words


def test_litres_are_a_range_with_the_probes_uncertainty_and_a_first_pour():
    """35 kg at 68 ± 5 %, aim 75: m(B − A)/(1 − B) from 73 % is 2.8 L, from 63 % 16.8; first a third of 2.8, under 5 L/m²."""
    one = dryness(wet(drying(0.05, ends_at=68.0)))
    assert pytest.approx((2.8, 16.8, 2.8 / 3), abs=1e-6) == (one.litres.low, one.litres.high, one.litres.first)
    (line,) = [m for m in one.more if "in all" in m]
    assert "NRAES-54" in line and "look under the bin first" in line


def test_without_a_mass_there_are_no_litres():
    one = dryness(wet(drying(0.05, ends_at=68.0), mass=None))
    assert one.litres is None
    assert ("nobody says how much `bedding` it holds, so no litres are told",) == one.lacks


def test_what_past_waterings_did_is_told():
    """Twice 5 L onto 35 kg at 75 % (8.75 kg dry) lift X by 0.4571 when four fifths of it stay."""
    rise = 0.8 * 5 / 8.75
    x, found, pours = dry_basis(74.0), [], []
    for quarter in range(160):
        if quarter in (60, 120):
            x += rise
            pours.append(entry((159 - quarter) / 4, Deed.WATERED, 5.0))
        found.append((NOW - (159 - quarter) * 6 * HOUR, wet_basis(x)))
        x -= 0.002
    now_dry = 35 * (1 - found[-1][1] / 100)
    one = dryness(wet(found, *pours))
    (line,) = [m for m in one.more if "stayed in the bed" in m]
    assert "last 2 waterings" in line
    said = int(line.split("about ")[1].split(" %")[0])
    assert said == pytest.approx(100 * rise * now_dry / 5, abs=4)


def test_only_the_last_four_waterings_are_told():
    """Of six the first two stayed whole and the others by half: what is told is of the others."""
    x, found, pours = dry_basis(74.0), [], []
    for quarter in range(240):
        if quarter in (30, 60, 90, 120, 150, 180):
            x += (1.0 if quarter < 90 else 0.5) * 2 / 8.75
            pours.append(entry((239 - quarter) / 4, Deed.WATERED, 2.0))
        found.append((NOW - (239 - quarter) * 6 * HOUR, wet_basis(x)))
        x -= 0.002
    (line,) = [m for m in dryness(wet(found, *pours)).more if "stayed in the bed" in m]
    assert "last 4 waterings" in line
    assert int(line.split("about ")[1].split(" %")[0]) < 60


def test_an_uncalibrated_probe_gives_no_days_and_a_handful_is_asked_for():
    one = dryness(wet([], blind=("fig-damp",)))
    assert (None, None) == (one.days, one.litres)
    assert one.words.startswith("squeeze a handful")
    assert ("fig-damp is not calibrated",) == one.lacks


def test_a_probe_that_says_another_thing_than_the_hand_is_not_believed():
    dusty = (NOW - 2 * DAY, band(Feel.CRUMBLES, Bedding.MIXED))
    one = dryness(wet(drying(0.05, ends_at=76.0), squeezed=dusty))
    assert (None, None) == (one.days, one.litres)
    assert "when the hand said 0 to 55 %, so it wants calibrating" in one.words
    agrees = (NOW - 2 * DAY, band(Feel.DROPS, Bedding.MIXED))
    assert dryness(wet(drying(0.05, ends_at=76.0), squeezed=agrees)).days is not None
    old = (NOW - 30 * DAY, band(Feel.CRUMBLES, Bedding.MIXED))
    assert dryness(wet(drying(0.05, ends_at=76.0), squeezed=old)).days is not None


def test_a_probe_that_climbs_by_itself_has_drifted():
    climbing = [(NOW - round(ago * DAY), 78.0 - 0.45 * ago) for ago in _steps(20.0)]
    assert "climbed 4 points in ten days" in dryness(wet(climbing)).words
    assert dryness(wet(climbing, entry(5, Deed.FED))).days is not None, "food brings water"


def test_two_weighings_tell_what_it_loses_whatever_the_probe_does():
    """30 kg and 2 L in between, 28.5 kg ten days later: 3.5 kg in ten days."""
    told = dryness(
        wet(
            [],
            entry(12, Deed.WEIGHED, 30.0, "kg"),
            entry(6, Deed.WATERED, 2.0),
            entry(2, Deed.WEIGHED, 28.5, "kg"),
        )
    )
    (line,) = told.more
    assert "loses about 0.3 litres a day (30 kg to 28 kg in 10 days" in line


def test_by_weighing_alone_and_a_squeeze_its_days_are_a_range():
    """28.5 kg at 70 to 80 %: 0 to m(A − B)/(1 − B) = 9.5 kg of water above its limit, at 0.35 a day 0 to 27 days."""
    hand = (NOW - 2 * DAY, band(Feel.DROPS, Bedding.PAPER))
    weighed = entry(12, Deed.WEIGHED, 30.0, "kg"), entry(6, Deed.WATERED, 2.0), entry(2, Deed.WEIGHED, 28.5, "kg")
    assert any("0 to 27 days to its dry limit" in m for m in dryness(wet([], *weighed, squeezed=hand)).more)


def test_what_is_too_wet_is_to_be_drained_and_never_poured_back():
    soaked = [(NOW - round(ago * DAY), 88.0) for ago in _steps(20.0)]
    (line,) = [m for m in dryness(wet(soaked)).more if "has to lose" in m]
    assert "never pour leachate back" in line


# ── a probe that leaves what else is known ──


def beside(*series):
    """Medians of several probes, four a day for thirty days."""
    times = [NOW - round(n * DAY / 4) for n in range(120, -1, -1)]
    return {f"damp-{n}": [(at, of((NOW - at) / DAY)) for at in times] for n, of in enumerate(series)}


def test_a_probe_that_leaves_its_neighbours_gives_no_days_and_is_named():
    """Three probes at 76 %, one of which climbs 8 points in the last fortnight: by the medians of a week, 21 days apart, 8."""
    each = beside(lambda ago: 76.0, lambda ago: 77.0, lambda ago: 75.0 + 8 * (ago < 14))
    one = dryness(wet(drying(0.05, ends_at=74.0), each=each))
    assert "damp-2 has come 8 points further above its neighbours in three weeks, so it drifts" in one.words
    assert (None, None) == (one.days, one.litres)


def test_of_two_that_come_apart_nobody_can_say_which():
    each = beside(lambda ago: 76.0, lambda ago: 76.0 - 6 * (ago < 14))
    one = dryness(wet(drying(0.05, ends_at=74.0), each=each))
    assert "damp-0 and damp-1 have come 6 points apart in three weeks, so one of them drifts" in one.words


def over_months(by, *, share=0.01, keeps=74.0, to=78.0, before=100.0):
    """Medians of a bed that loses a share of its water a day and is watered at 74 %, and what the probe adds to that."""
    x, found, pours = dry_basis(to), [], []
    for ago in _steps(before):
        x *= 1 - share / 4
        if wet_basis(x) < keeps:
            x = dry_basis(to)
            pours.append(entry(ago, Deed.WATERED, 2.0))
        found.append((NOW - round(ago * DAY), wet_basis(x) + by(ago)))
    return found, pours


def lately(points, *, over=20.0):
    """A drift that begins three weeks ago."""
    return lambda ago: points * min(1.0, max(0.0, (21 - ago) / over))


@pytest.mark.parametrize(
    ("points", "way", "why"),
    [(-8.0, "drier", "a mat, an open cover"), (8.0, "wetter", "water or feed that nobody wrote down")],
)
def test_a_probe_alone_that_leaves_how_its_bed_dries_gives_no_days(points, way, why):
    """From 86 % the bed loses a hundredth a day and nobody waters: it stands where it should, and the probe 8 points beside."""
    found, _ = over_months(lately(points), to=86.0, keeps=0.0)
    one = dryness(wet(found, entry(6, Deed.FED), each={"fig-damp": ()}))
    said = re.search(
        r"it is (\d) points (\w+) than its usual drying leaves it in three weeks, so the probe drifts", one.words
    )
    assert said, one.words
    assert ("8", way) == said.groups()
    assert f"or it was {why}" in one.words
    assert (None, None) == (one.days, one.litres)


def test_a_hand_that_agrees_with_the_probe_says_that_it_was_the_bed():
    found, pours = over_months(lately(-8.0))
    then, moist = found[-5]
    agrees = (then, next(b for feel in Feel if _holds(b := band(feel, Bedding.MIXED), moist)))
    assert dryness(wet(found, *pours, each={"fig-damp": ()}, squeezed=agrees)).days is not None


def _holds(hand, moisture):
    return hand.low <= moisture <= hand.high


def test_a_bed_that_dries_as_it_did_gives_days_and_a_steady_probe_is_believed():
    found, pours = over_months(lambda ago: 0.0)
    one = dryness(wet(found, *pours, each={"fig-damp": ()}))
    assert one.days is not None
    assert any("a drift of it shows only against how its bed dries" in line for line in one.lacks)


def test_other_matter_in_the_bed_is_learned_anew():
    found, pours = over_months(lately(-8.0))
    one = dryness(wet(found, *pours, entry(25, Deed.HARVESTED), each={"fig-damp": ()}))
    assert one.days is not None
    assert any("as a climb, until seven weeks of its drying are known" in line for line in one.lacks)


def test_of_two_that_come_apart_it_is_the_one_that_leaves_how_the_bed_dries():
    (steady, pours), (drifting, _) = over_months(lambda ago: 0.0), over_months(lately(-9.0, over=7.0))
    one = dryness(wet(steady, *pours, each={"fig-damp": steady, "fig-deep": drifting}))
    assert "so one of them drifts: fig-deep, by how its bed dries" in one.words


def test_what_dries_together_and_stood_apart_all_along_is_no_drift():
    each = beside(lambda ago: 70.0 + ago / 2, lambda ago: 76.0 + ago / 2, lambda ago: 72.0 + ago / 2)
    assert dryness(wet(drying(0.05, ends_at=74.0), each=each)).days is not None
    almost = beside(lambda ago: 76.0, lambda ago: 76.0, lambda ago: 71.5 + 4.5 * (ago < 14))
    assert dryness(wet(drying(0.05, ends_at=74.0), each=almost)).days is not None


def test_a_probe_alone_says_how_its_drift_would_show():
    one = dryness(wet(drying(0.05, ends_at=74.0), each={"fig-damp": ()}))
    assert any("fig-damp has no probe beside it" in line for line in one.lacks)
    squeezed = (NOW - 2 * DAY, band(Feel.DROPS, Bedding.MANURE))
    told = dryness(wet(drying(0.05, ends_at=74.0), each={"fig-damp": ()}, squeezed=squeezed))
    assert not any("no probe beside it" in line for line in told.lacks)


def test_medians_of_last_week_are_of_no_use_today():
    old = [(at - 3 * DAY, value) for at, value in drying(0.05, ends_at=74.0)]
    one = dryness(wet(old))
    assert one.days is None and one.litres is None
    assert "squeeze a handful" in one.words
    assert "no moisture probe speaks" in one.lacks


def test_beyond_its_wettest_point_a_probe_wants_another_and_says_why():
    one = dryness(wet(drying(0.05, ends_at=74.0), beyond={"fig-damp": Firm(80.0, 1), "fig-deep": Firm(12.0, -1)}))
    wetter, drier = one.recalibrate
    assert wetter.startswith(
        "fig-damp reads wetter than its wettest point of 80 %, so nobody can say when it is too wet"
    )
    assert drier.startswith("fig-deep reads drier than its driest point of 12 %")


def test_the_arithmetic_of_days_and_litres_can_be_followed_by_hand():
    one = dryness(wet(drying(0.06, ends_at=74.0)))
    (days,) = [line for line in one.more if "kg of water for each kg dry) /" in line]
    assert "− 2.33 kg of water" in days and "2.33 is 70 % by definition" in days
    assert "Viljoen & Reinecke" in days or "seen" in days
    (litres,) = [line for line in one.more if "in all" in line]
    assert "A 74 % ± 5" in litres and "B 75 %" in litres and "5 L/m²" in litres
