"""However readings are cut into rounds, whenever the daemon restarts, whatever comes twice or late: the same."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from checks.beds import MINUTE, T0, Watching, bed, counts, damp, reading, thermometer, zone
from monitor.checks.findings import AlarmKey
from monitor.checks.memory import ProbeMemory
from monitor.readings import Measures, Millis, Quality, Reading
from monitor.rules import JudgeBy

PROBES = ("fig-west", "fig-east", "fig-damp")
QUALITIES = [Quality.GOOD] * 12 + [q for q in Quality if q not in (Quality.GOOD, Quality.AHEAD, Quality.EARLY)]
VALUES = st.sampled_from([10.0, 12.0, 12.5, 14.0, 15.0, 16.0, 20.0, 21.0, 22.0, 25.0, 29.0, 33.0, 35.0])
MOISTURES = st.sampled_from([50.0, 58.0, 66.0, 70.0, 73.0, 76.0, 79.0, 81.0])
GAPS = st.sampled_from([1, 10 * MINUTE, 25 * MINUTE, 40 * MINUTE, 44 * MINUTE, 70 * MINUTE, 5 * 60 * MINUTE])


@dataclass(frozen=True)
class Story:
    """Readings, each at a moment of its own, in order of time."""

    judge: JudgeBy
    readings: tuple[Reading, ...]

    def watching(self) -> Watching:
        west = zone("west", thermometer("fig-west"), damp("fig-damp"))
        return Watching(bed(west, zone("east"), judge=self.judge))


@st.composite
def stories(draw: st.DrawFn) -> Story:
    at: Millis = T0
    found = []
    for _ in range(draw(st.integers(1, 30))):
        at += draw(GAPS)
        probe = draw(st.sampled_from(PROBES))
        value = counts(draw(MOISTURES)) if probe == "fig-damp" else draw(VALUES)
        found.append(reading(probe, at, value, draw(st.sampled_from(QUALITIES))))
    return Story(draw(st.sampled_from(JudgeBy)), tuple(found))


def cut(readings: Sequence[Reading], where: set[int]) -> list[list[Reading]]:
    rounds: list[list[Reading]] = [[]]
    for n, one in enumerate(readings):
        if n in where:
            rounds.append([])
        rounds[-1].append(one)
    return [r for r in rounds if r]


CUTS = st.sets(st.integers(1, 30))


@given(stories(), CUTS)
def test_the_same_phases_and_memory_however_it_is_cut(story: Story, where: set[int]):
    alone, together = story.watching().live(story.readings), story.watching()
    for batch in cut(story.readings, where):
        together.round(*batch)
    assert alone.phases == together.phases
    assert alone.memory == together.memory


STEPS = st.lists(st.tuples(GAPS, VALUES), min_size=1, max_size=40)


@given(STEPS, CUTS)
def test_every_episode_is_told_once_either_as_an_alarm_or_as_past(
    steps: list[tuple[Millis, float]], where: set[int]
):
    times = list(accumulate((gap for gap, _ in steps), initial=T0))[1:]
    readings = [reading("fig-west", at, value) for at, (_, value) in zip(times, steps, strict=True)]
    alone, together = Watching(bed()).live(readings), Watching(bed())
    for batch in cut(readings, where):
        together.round(*batch)
    assert begun(alone) == begun(together)


def begun(life: Watching) -> list[tuple[AlarmKey, Millis]]:
    """What was told to begin, and when it ended (0: not yet)."""
    alarms: dict[AlarmKey, Millis] = {}
    found = [(p.key, p.ended) for p in life.past]
    for finding in life.said:
        if finding.level is None:
            del alarms[finding.key]
            found.append((finding.key, finding.since))
        else:
            alarms[finding.key] = 0
    return sorted(found + list(alarms.items()))


@given(stories(), st.sets(st.integers(0, 30)))
def test_a_restart_in_the_middle_changes_nothing(story: Story, restarts: set[int]):
    unbroken, broken = story.watching().live(story.readings), story.watching()
    for n, one in enumerate(story.readings):
        if n in restarts:
            broken.restart()
        broken.round(one)
    assert unbroken.phases == broken.phases
    assert known(unbroken) == known(broken)
    assert unbroken.said == broken.said


def known(life: Watching) -> dict[str, ProbeMemory]:
    return {probe: memory for probe, memory in life.memory.items() if memory.heard is not None}


@given(stories(), st.data())
def test_what_comes_twice_or_late_changes_no_phase_and_no_memory(story: Story, data: st.DataObject):
    plain, noisy = story.watching().live(story.readings), story.watching()
    for n, one in enumerate(story.readings):
        noisy.round(one)
        if one.quality is not Quality.RETAINED and data.draw(st.booleans()):
            again = data.draw(
                st.sampled_from([r for r in story.readings[: n + 1] if r.quality is not Quality.RETAINED])
            )
            late = reading(again.probe, again.at - data.draw(st.integers(0, 90 * MINUTE)), data.draw(VALUES))
            looked = noisy.round(late, now=one.at)
            assert ({}, {}) == (looked.memory, looked.phases)
    assert plain.phases == noisy.phases
    assert plain.memory == noisy.memory
    assert plain.said == noisy.said


@given(stories(), st.data())
def test_a_restart_knows_which_readings_were_late(story: Story, data: st.DataObject):
    life = story.watching()
    for one in story.readings:
        life.round(one)
        if one.quality is not Quality.RETAINED and data.draw(st.booleans()):
            life.round(reading(one.probe, one.at - data.draw(st.integers(1, 90 * MINUTE)), 5.0), now=one.at)
    before = known(life)
    life.restart()
    assert before == known(life)


@given(stories())
def test_no_watch_is_there_whose_limit_was_never_broken(story: Story):
    life = story.watching().live(story.readings)
    temperatures = [r.value for r in story.readings if r.probe != "fig-damp" and r.quality.trusted]
    for watch in life.watched.watches:
        if watch.measures is Measures.TEMPERATURE and watch.name in life.phases:
            broken = (
                min(temperatures) <= watch.bound.value if watch.below else max(temperatures) >= watch.bound.value
            )
            assert broken
