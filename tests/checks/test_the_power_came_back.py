"""What is said when the machine has power again, when, and whose silence that explains. Spans are proposals of ours."""

from dataclasses import replace

import pytest

from checks.beds import HOUR, MINUTE, T0, bed, reading, site, thermometer, zone
from monitor.checks.findings import Condition
from monitor.checks.memory import remember
from monitor.checks.power import BRIEF, KEY, STANDS, WAIT, Outage, look_at_power
from monitor.checks.probes import look_at_probes, roll
from monitor.checks.watches import watch_over
from monitor.reckoning import Belief
from monitor.rules import Level

BED = bed(zone("west"), zone("east"))
ROLL = roll(site(BED), [watch_over(BED)])
PROBES = [entry.probe.id for entry in ROLL.probes]
OFF = 3 * HOUR
BACK = T0 + OFF
CUT = Outage(T0, BACK, Belief.PROVEN)


def heard(**at):
    """`fig_west=T0`: that probe spoke then."""
    return {
        name.replace("_", "-"): remember(None, reading(name.replace("_", "-"), when, 20.0))
        for name, when in at.items()
    }


EVERYBODY = heard(**{probe.replace("-", "_"): BACK + MINUTE for probe in PROBES})
NOBODY = heard(**{probe.replace("-", "_"): T0 for probe in PROBES})


def look(outage, memory, now, standing=frozenset(), probes=ROLL.probes):
    return look_at_power(outage, probes=probes, memory=memory, now=now, standing=standing)


def text(outage, memory, now=BACK + WAIT):
    (finding,) = look(outage, memory, now)
    return finding.evidence.arithmetic


def test_without_another_boot_there_is_nothing_to_say():
    assert [] == look(None, NOBODY, BACK + HOUR)


def test_it_is_said_as_soon_as_everybody_has_spoken():
    assert [] == look(CUT, NOBODY, BACK + MINUTE)
    (finding,) = look(CUT, EVERYBODY, BACK + MINUTE)
    assert (KEY, Level.COMFORT, BACK + MINUTE, BACK) == (finding.key, finding.level, finding.at, finding.since)
    assert (
        "nothing was heard for 3 h, until the machine had power again; every probe has spoken since"
        == finding.evidence.arithmetic
    )


def test_the_plugs_of_mats_are_waited_for_and_not_counted():
    plug = {"mat:long": remember(None, reading("mat:long", BACK + 2 * MINUTE, 38.0))}
    assert [] == look_at_power(
        CUT, probes=ROLL.probes, memory=EVERYBODY, now=BACK + MINUTE, standing=set(), plugs=["mat:long"]
    )
    (finding,) = look_at_power(
        CUT, probes=ROLL.probes, memory=EVERYBODY | plug, now=BACK + 2 * MINUTE, standing=set(), plugs=["mat:long"]
    )
    assert finding.evidence.arithmetic.endswith("every probe has spoken since")


def test_and_at_the_latest_when_they_have_had_their_time():
    assert [] == look(CUT, NOBODY, BACK + WAIT - 1)
    assert "0 of 2 probes have spoken since; not yet: fig-west, fig-east" in text(CUT, NOBODY)
    one = NOBODY | heard(fig_west=BACK)
    assert "1 of 2 probes have spoken since; not yet: fig-east" in text(CUT, one)


def test_a_probe_is_missed_by_its_own_interval():
    slow = replace(ROLL.probes[1], probe=replace(ROLL.probes[1].probe, every=30 * MINUTE))
    (finding,) = look(CUT, NOBODY, BACK + WAIT, probes=(ROLL.probes[0], slow))
    assert "not yet: fig-west; not due yet: fig-east" in finding.evidence.arithmetic


def test_many_are_counted():
    more = tuple(replace(ROLL.probes[0], probe=thermometer(f"p{n}")) for n in range(7))
    (finding,) = look(CUT, {}, BACK + WAIT, probes=more)
    assert "0 of 7 probes have spoken since; not yet: p0, p1, p2, p3, 3 more" in finding.evidence.arithmetic


def test_a_site_without_probes_says_so():
    (finding,) = look(CUT, {}, BACK, probes=())
    assert finding.evidence.arithmetic.endswith("there are no probes")


def test_how_long_is_not_said_while_the_time_is_not_known():
    assert text(replace(CUT, belief=Belief.UNSURE), NOBODY).startswith(
        "how long the power was off is not known yet"
    )
    assert text(replace(CUT, since=BACK + HOUR), NOBODY).startswith("how long the power was off is not known yet")


def test_a_clock_that_nothing_confirms_is_given_time_and_then_doubted():
    believed = replace(CUT, belief=Belief.BELIEVED)
    assert [] == look(believed, EVERYBODY, BACK + WAIT - 1)
    assert "3 h, until the machine had power again, if its clock is right" in text(believed, EVERYBODY)


@pytest.mark.parametrize(
    ("orderly", "off", "said"),
    [(True, BRIEF - 1, 0), (True, BRIEF, 1), (False, BRIEF - 1, 1), (False, 1, 1)],
)
def test_somebody_who_starts_the_machine_anew_is_not_told_of_it(orderly, off, said):
    outage = Outage(BACK - off, BACK, Belief.PROVEN, orderly)
    assert said == len(look(outage, EVERYBODY, BACK + WAIT))


def test_it_is_said_once_and_is_over_half_a_day_later():
    assert [] == look(CUT, EVERYBODY, BACK + HOUR, {KEY})
    assert [] == look(CUT, EVERYBODY, BACK + STANDS - 1, {KEY})
    (over,) = look(CUT, EVERYBODY, BACK + STANDS, {KEY})
    assert (KEY, None) == (over.key, over.level)
    assert [] == look(CUT, EVERYBODY, BACK + STANDS)
    assert KEY == look(None, EVERYBODY, BACK + HOUR, {KEY})[0].key


# Silence


def silences(now, powered_since, memory=NOBODY, standing=frozenset()):
    found = look_at_probes(
        ROLL, memory=memory, now=now, listening_since=BACK, known_since={}, standing=standing,
        powered_since=powered_since,
    )  # fmt: skip
    return {(f.key.subject.id, f.key.condition) for f in found if f.level}


def test_without_power_nobody_is_to_blame_for_a_probes_silence_until_it_has_had_its_own():
    """45 min is the shortest silence there is, after three missed."""
    assert ("fig-west", Condition.SILENT) in silences(BACK + 44 * MINUTE, None)
    assert set() == silences(BACK + 45 * MINUTE - 1, BACK)
    expected = {("fig-west", Condition.SILENT), ("fig-east", Condition.SILENT), ("fig", Condition.UNWATCHED)}
    assert expected == silences(BACK + 45 * MINUTE, BACK)


def test_who_was_silent_before_the_cut_stays_silent():
    standing = {f.key for f in look_at_probes(
        ROLL, memory=NOBODY, now=BACK, listening_since=T0, known_since={}, standing=set(),
    )}  # fmt: skip
    assert ("fig-west", Condition.SILENT) in silences(BACK + MINUTE, BACK, standing=standing)
