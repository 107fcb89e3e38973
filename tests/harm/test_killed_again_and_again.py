"""The whole daemon, killed with −9 at every named point while probes talk and bins come to harm: nothing that the
broker took is lost or kept twice, and every episode is told.

`VERMISTAT_KILLS` is how often each of the two lives is killed (10 without it; the long form is 120 and takes some
minutes). The controls are in test_each_protection_is_needed.py.
"""

import os
import random
from collections import Counter
from itertools import cycle, islice

import pytest

from parts.harm_daemon import POINTS
from parts.harm_life import Life
from parts.webhook import die_midway, drip, keep_silent, refuse, take

KILLS = int(os.environ.get("VERMISTAT_KILLS", "10"))
AT_MOST = {"keep": 4, "batch": 60, "commit": 2, "kept": 3, "acknowledging": 3, "sending": 2, "sent": 2}
"""Up to which arrival at a point it is lived on; at all others the first one kills."""
IN_JOURNAL, IN_TELLING = 18, 8
"""Arrivals at `migration` in the second and in the third step of the schema."""


def slow(request, text):
    """Answers after a while, and then well; by then nobody may listen any more."""
    request.server.owner.released.wait(1.5)
    take(request, text)


HOOK = (take, refuse(503), slow, die_midway, keep_silent, take, drip)


def deaths(seed, begin):
    """As many as are asked for, all points in turn; migrations first, because they come once in a file's life."""
    chance = random.Random(seed)
    points = list(islice(cycle(POINTS), begin, begin + KILLS))
    others = [(point, chance.randint(1, AT_MOST.get(point, 1))) for point in points if point != "migration"]
    return [("migration", nth) for nth in in_migrations(points.count("migration"), chance)] + others


def in_migrations(times, chance):
    """Deaths in the second step as often as in the third; a step that was killed begins anew."""
    if times == 1:
        return [chance.randint(1, IN_JOURNAL + IN_TELLING)]
    late = [chance.randint(1, IN_TELLING) for _ in range(times // 2)]
    late[:1] = [IN_JOURNAL + nth for nth in late[:1]]
    return [chance.randint(1, IN_JOURNAL) for _ in range(times - times // 2)] + late


@pytest.mark.timeout(120 + 5 * KILLS)
@pytest.mark.parametrize(
    ("begin", "how"),
    [(0, {"protocol": "5"}), (5, {"protocol": "3.1.1", "secure": True})],
    ids=["MQTT 5, plain", "MQTT 3.1.1, TLS and a password"],
)
def test_nothing_is_lost_or_kept_twice_and_all_is_told(tmp_path, begin, how, record_property):
    dying = deaths(20_261_125 + begin, begin)
    with Life(tmp_path, dying, **how) as life:
        life.live(HOOK)
        assert {} == life.faults()
        assert Counter(point for point, _ in dying) == life.at
        assert KILLS == life.at.total()
        assert min(life.talk.dated.total(), life.talk.timeless.total()) > 20 * KILLS
        record_property("killed at", dict(life.at))


def test_all_points_come_up_in_the_two_lives():
    assert set(POINTS) == {point for begin in (0, 5) for point, _ in deaths(1, begin)}
