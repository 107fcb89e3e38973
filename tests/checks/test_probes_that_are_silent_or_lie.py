"""Silent, stuck, faulty, and a subject that no good thermometer speaks for.

Silence as in tests/checks/test_memory_of_a_probe.py. After a power cut nobody is late for one interval
(heartbeat practice) [common practice].
"""

from dataclasses import replace

import pytest

from checks.beds import HOUR, MINUTE, T0, bed, damp, every, reading, site, thermometer, zone
from monitor.checks.findings import AlarmKey, Condition, Finding, Kind, Subject
from monitor.checks.memory import ProbeMemory, from_history
from monitor.checks.probes import Roll, look_at_probes, roll
from monitor.checks.watches import watch_over
from monitor.readings import SECOND, Millis, Quality, Reading
from monitor.rules import Bin, JudgeBy, Level

TWENTY = 20 * MINUTE
WEST = Subject(Kind.PROBE, "fig-west", "shed")
FIG = Subject(Kind.BIN, "fig", "shed")


def roll_of(*beds: Bin, air=()) -> Roll:
    return roll(site(*beds, air=air), [watch_over(b) for b in beds])


def memories(*readings: Reading, probe=None) -> dict[str, ProbeMemory]:
    by: dict[str, list[Reading]] = {}
    for one in readings:
        by.setdefault(one.probe, []).append(one)
    return {p: from_history(probe or thermometer(p), rs) for p, rs in by.items()}


def said(
    memory: dict[str, ProbeMemory],
    now: Millis,
    *,
    beds: tuple[Bin, ...] = (bed(),),
    listening_since: Millis | None = T0 - HOUR,
    known_since: dict[str, Millis] | None = None,
    standing: set[AlarmKey] = frozenset(),  # type: ignore[assignment]
) -> list[Finding]:
    return look_at_probes(
        roll_of(*beds),
        memory=memory,
        now=now,
        listening_since=listening_since,
        known_since=known_since or {},
        standing=standing,
    )


def found(*args, **kwargs) -> list[tuple[str, Condition, Level | None]]:
    return [(f.key.subject.id, f.key.condition, f.level) for f in said(*args, **kwargs)]


SILENT = ("fig-west", Condition.SILENT, Level.COMFORT)
UNWATCHED = ("fig", Condition.UNWATCHED, Level.COMFORT)
SPOKE = memories(*every(TWENTY, [23.0] * 5))
LAST = T0 + 4 * TWENTY


def test_it_is_silent_when_three_intervals_are_over_and_not_a_moment_before():
    assert [] == found(SPOKE, LAST + HOUR - 1)
    assert [SILENT, UNWATCHED] == found(SPOKE, LAST + HOUR)


def test_silence_is_dated_by_the_readings_and_not_by_the_look():
    finding = said(SPOKE, LAST + 5 * HOUR)[0]
    assert (LAST + HOUR, LAST) == (finding.at, finding.since)
    assert "last reading 5 h ago; it speaks every 20 min, silent after 1 h" == finding.evidence.arithmetic


def test_a_probe_every_ten_seconds_is_given_three_quarters_of_an_hour():
    spoke = memories(*every(10 * SECOND, [23.0] * 5))
    last = T0 + 40 * SECOND
    assert ([], 2) == (found(spoke, last + 45 * MINUTE - 1), len(found(spoke, last + 45 * MINUTE)))


def test_after_we_were_away_everybody_gets_one_interval():
    back = LAST + 3 * HOUR
    assert [] == found(SPOKE, back + TWENTY - 1, listening_since=back)
    assert [SILENT, UNWATCHED] == found(SPOKE, back + TWENTY, listening_since=back)


def test_and_never_less_than_five_minutes():
    spoke = memories(*every(10 * SECOND, [23.0] * 5))
    back = T0 + 3 * HOUR
    assert [] == found(spoke, back + 5 * MINUTE - 1, listening_since=back)
    assert [SILENT, UNWATCHED] == found(spoke, back + 5 * MINUTE, listening_since=back)


def test_while_we_are_deaf_nobody_becomes_silent():
    assert [] == found(SPOKE, LAST + 30 * HOUR, listening_since=None)


STANDING = {AlarmKey(WEST, Condition.SILENT), AlarmKey(FIG, Condition.UNWATCHED)}


@pytest.mark.parametrize("listening_since", [None, LAST + 29 * HOUR, LAST + 30 * HOUR])
def test_who_was_silent_before_stays_silent_until_heard(listening_since: Millis | None):
    assert [SILENT, UNWATCHED] == found(
        SPOKE, LAST + 30 * HOUR, listening_since=listening_since, standing=STANDING
    )


def test_one_word_ends_the_silence():
    again = memories(*every(TWENTY, [23.0] * 5), reading("fig-west", LAST + 9 * HOUR, 23.0))
    now = LAST + 9 * HOUR + MINUTE
    findings = said(again, now, standing=STANDING)
    assert [(WEST, None, LAST + 9 * HOUR), (FIG, None, LAST + 9 * HOUR)] == [
        (f.key.subject, f.level, f.at) for f in findings
    ]
    assert [] == said(again, now)


def test_who_never_spoke_is_awaited_from_when_it_was_written_down():
    known = {"fig-west": T0 + HOUR}
    assert [] == found({}, T0 + HOUR + 45 * MINUTE - 1, known_since=known)
    assert [SILENT, UNWATCHED] == found({}, T0 + HOUR + 45 * MINUTE, known_since=known)
    finding = said({}, T0 + 2 * HOUR, known_since=known)[0]
    assert "no reading in 1 h; its interval is not known, silent after 45 min" == finding.evidence.arithmetic


def bad(n: int, quality: Quality, *, start: Millis = LAST, step: Millis = TWENTY) -> list[Reading]:
    return [reading("fig-west", start + (i + 1) * step, -127.0, quality) for i in range(n)]


FAULTY = ("fig-west", Condition.FAULTY, Level.COMFORT)
GLITCHES = [Quality.OUT_OF_RANGE, Quality.POWER_ON, Quality.DISCONNECTED, Quality.JUMP]


@pytest.mark.parametrize("quality", GLITCHES)
def test_a_single_glitch_raises_nothing(quality: Quality):
    memory = memories(*every(TWENTY, [23.0] * 5), *bad(1, quality))
    assert [] == found(memory, LAST + TWENTY + 10 * MINUTE)


@pytest.mark.parametrize("quality", GLITCHES)
def test_only_nonsense_for_the_span_of_a_silence_is_a_fault(quality: Quality):
    good = every(TWENTY, [23.0] * 5)
    three = memories(*good, *bad(3, quality))
    assert FAULTY not in found(three, LAST + 3 * TWENTY)
    four = memories(*good, *bad(4, quality))
    assert [FAULTY, UNWATCHED] == found(four, LAST + 4 * TWENTY)
    finding = said(four, LAST + 4 * TWENTY)[0]
    assert (LAST + TWENTY, LAST + TWENTY + HOUR) == (finding.since, finding.at)
    assert finding.evidence.arithmetic.startswith("no good reading for 1 h, the newest is ")
    assert finding.evidence.arithmetic.endswith("; last good value 23")


def test_a_good_reading_among_the_bad_begins_the_count_anew():
    good = every(TWENTY, [23.0] * 5)
    mixed = [*bad(3, Quality.JUMP), reading("fig-west", LAST + 4 * TWENTY, 23.0)]
    more = bad(3, Quality.JUMP, start=LAST + 4 * TWENTY)
    assert [] == found(memories(*good, *mixed, *more), LAST + 7 * TWENTY - 1)


def test_a_fault_ends_with_a_good_reading():
    standing = {AlarmKey(WEST, Condition.FAULTY)}
    good = memories(
        *every(TWENTY, [23.0] * 5), *bad(4, Quality.JUMP), reading("fig-west", LAST + 5 * TWENTY, 23.0)
    )
    assert [("fig-west", Condition.FAULTY, None)] == found(good, LAST + 5 * TWENTY, standing=standing)


def test_a_fault_outlives_a_restart_that_remembers_less():
    standing = {AlarmKey(WEST, Condition.FAULTY)}
    short = memories(*bad(2, Quality.JUMP))
    assert FAULTY in found(short, LAST + 2 * TWENTY, standing=standing)


def test_a_probe_from_the_future_is_faulty_and_not_silent():
    ahead = [
        Reading("fig-west", T0 + 90 * 24 * HOUR, 23.0, LAST + (n + 1) * TWENTY, Quality.AHEAD) for n in range(4)
    ]
    memory = memories(*every(TWENTY, [23.0] * 5), *ahead)
    assert [FAULTY, UNWATCHED] == found(memory, LAST + 4 * TWENTY + MINUTE)


def test_a_stuck_probe_is_said_to_be_stuck_at_once():
    memory = memories(*every(TWENTY, [23.0] * 5), *bad(1, Quality.STUCK))
    assert [("fig-west", Condition.STUCK, Level.COMFORT)] == found(memory, LAST + TWENTY)


@pytest.mark.parametrize("quality", [*GLITCHES, Quality.STUCK])
def test_a_probe_has_one_trouble_at_a_time(quality: Quality):
    memory = memories(*every(TWENTY, [23.0] * 5), *bad(6, quality))
    trouble = Condition.STUCK if quality is Quality.STUCK else Condition.FAULTY
    now = LAST + 6 * TWENTY + HOUR
    assert [
        ("fig-west", trouble, None),
        SILENT,
    ] == found(memory, now, standing={AlarmKey(WEST, trouble)})[:2]


TWO = bed(zone("west"), zone("east"))


def test_a_bin_with_one_good_thermometer_left_is_watched():
    memory = memories(*every(TWENTY, [23.0] * 5), *every(TWENTY, [23.0] * 12, probe="fig-east"))
    assert [SILENT] == found(memory, LAST + HOUR, beds=(TWO,))
    assert {"fig-west", "fig-east", "fig"} == {who for who, *_ in found(memory, LAST + 9 * HOUR, beds=(TWO,))}


def test_under_every_zone_each_zone_is_watched_for_itself():
    apart = replace(TWO, judge=JudgeBy.EVERY_ZONE)
    memory = memories(*every(TWENTY, [23.0] * 5), *every(TWENTY, [23.0] * 12, probe="fig-east"))
    assert [SILENT, ("fig.west", Condition.UNWATCHED, Level.COMFORT)] == found(memory, LAST + HOUR, beds=(apart,))


def test_a_good_moisture_probe_does_not_make_a_bin_watched():
    mixed = bed(zone("west", thermometer("fig-west"), damp("fig-damp")))
    memory = memories(*every(TWENTY, [23.0] * 5)) | memories(
        *every(TWENTY, [2000.0] * 12, probe="fig-damp"), probe=damp("fig-damp")
    )
    assert [SILENT, UNWATCHED] == found(memory, LAST + HOUR, beds=(mixed,))


def test_the_probes_of_the_air_are_on_the_roll():
    awaited = roll_of(bed(), air=[thermometer("shed-air")])
    assert [("shed-air", "shed"), ("fig-west", "shed")] == [(e.probe.id, e.subject.place) for e in awaited.probes]


def test_the_roll_names_the_only_thermometer_of_a_subject():
    assert {FIG: WEST} == roll_of(bed()).only_probes
    assert {} == roll_of(TWO).only_probes
