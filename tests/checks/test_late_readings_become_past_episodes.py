"""What only late readings show is told once as a past episode and touches no alarm."""

from collections.abc import Sequence

from checks.beds import T0, Watching, bed, every, key, reading, zone
from monitor.checks.findings import AlarmKey, Condition, PastEpisode
from monitor.checks.late import past_episodes
from monitor.readings import HOUR, MINUTE, Millis, Quality, Reading
from monitor.rules import Level

STEP = 30 * MINUTE
COLD = key(Condition.COLD)


def told(
    life: Watching, late: Sequence[Reading], known: Sequence[tuple[AlarmKey, Millis, Millis]] = ()
) -> list[PastEpisode]:
    life.round(*late, now=max(at for _, at in life.stored))
    return list(past_episodes(life.watched, history=life.history(), late=late, known=known))


def warm_with_a_hole(hole: tuple[int, int]) -> Watching:
    return Watching(bed()).live(r for n, r in enumerate(every(STEP, [24] * 24)) if not hole[0] <= n < hole[1])


def test_a_cold_night_that_arrives_in_the_morning_is_told():
    late = every(STEP, [11, 11, 11.5, 11], start=T0 + 4 * STEP)
    life = warm_with_a_hole((4, 8))
    phases = dict(life.phases)
    (episode,) = told(life, late)
    assert (COLD, Level.HARM, T0 + 4 * STEP, T0 + 8 * STEP) == (
        episode.key,
        episode.level,
        episode.began,
        episode.ended,
    )
    assert (11, "west") == (episode.evidence.value, episode.evidence.zone)
    assert (phases, [], []) == (life.phases, life.steps(), life.past)


def test_what_is_known_of_that_time_is_not_told_again():
    late = every(STEP, [11] * 4, start=T0 + 4 * STEP)
    life = warm_with_a_hole((4, 8))
    assert [] == told(life, late, [(COLD, T0 + 8 * STEP, T0 + 9 * STEP)])


def test_something_else_or_another_time_does_not_make_it_known():
    late = every(STEP, [11] * 4, start=T0 + 4 * STEP)
    known = [(key(Condition.HOT), T0, T0 + 24 * STEP), (COLD, T0, T0 + 3 * STEP)]
    assert 1 == len(told(warm_with_a_hole((4, 8)), late, known))


def test_an_episode_that_no_late_reading_is_part_of_is_not_its_story():
    values = [24] * 4 + [11] * 4 + [24] * 16
    life = Watching(bed()).live(every(STEP, values))
    assert [] == told(life, [reading("fig-west", T0 + STEP + 1, 24)])


def test_a_late_value_that_is_not_trusted_tells_nothing():
    late = [reading("fig-west", T0 + n * STEP, -127, Quality.DISCONNECTED) for n in range(4, 8)]
    assert [] == told(warm_with_a_hole((4, 8)), late)


def test_a_lie_that_comes_late_into_an_episode_does_not_make_it_a_story():
    life = Watching(bed()).live(every(STEP, [24] * 4 + [11] * 4 + [24] * 16))
    assert [] == told(life, [reading("fig-west", T0 + 5 * STEP + 1, -127, Quality.DISCONNECTED)])
    assert 1 == len(told(life, [reading("fig-west", T0 + 5 * STEP + 2, 11)]))


def test_a_warm_neighbour_was_a_refuge_then_as_well():
    two = Watching(bed(zone("west"), zone("east")))
    west = [r for n, r in enumerate(every(STEP, [24] * 24)) if not 4 <= n < 8]
    east = every(STEP, [24] * 24, probe="fig-east")
    two.live(sorted(west + east, key=lambda r: r.at))
    assert [] == told(two, every(STEP, [11] * 4, start=T0 + 4 * STEP))


def test_an_episode_still_open_at_the_end_of_the_span_is_told_as_far_as_it_goes():
    life = Watching(bed()).live(every(STEP, [24] * 4))
    life.round(reading("fig-west", T0 + 12 * STEP, 24))
    late = every(STEP, [11] * 4, start=T0 + 4 * STEP)
    life.round(*late, now=T0 + 12 * STEP)
    until = {p: [r for r in rs if r.at < T0 + 8 * STEP] for p, rs in life.history().items()}
    (episode,) = past_episodes(life.watched, history=until, late=late, known=())
    assert (T0 + 4 * STEP, T0 + 7 * STEP) == (episode.began, episode.ended)


def test_lateness_by_days_is_lateness_all_the_same():
    life = Watching(bed())
    life.round(reading("fig-west", T0 + 100 * HOUR, 24))
    assert 1 == len(told(life, [*every(STEP, [11] * 4), reading("fig-west", T0 + 4 * STEP, 24)]))
