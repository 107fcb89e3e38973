"""Killed with −9 wherever it stands, a dozen times over on one file: what was acknowledged is kept, in order."""

import random

import pytest

from monitor.readings import MINUTE
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.kept import T0, alarm, batch, moved_often, notice, reading, round_, transition, untold


def writing(path):
    """Goes on where the last one was killed; says every number that is acknowledged."""

    def work(say):
        store = SqliteStore(path)
        past = store.load()
        number = past.last_round.number if past.last_round else 0
        while True:
            number += 1
            minute = store.last_arrival() // 3
            kept = store.keep(
                batch(*(reading(p, minute, minute % 30) for p in ("fig-west", "fig-east", "plum-near")))
            )
            say(f"reading {kept.last_arrival}")
            store.commit(
                round_(
                    number,
                    upto=kept.last_arrival,
                    alarms=[alarm(number)],
                    ended=[number - 1],
                    transitions=[transition(number)],
                    notices=[notice(number, ("phone",))],
                    told=[("keeper", "shed")],
                    untold=[untold(number=number)],
                )
            )
            say(f"round {number}")
            store.sent(number, "phone", T0 + number)
            say(f"sent {number}")

    return work


@pytest.mark.parametrize("staged", ["moved often", "moved seldom"])
def test_what_was_acknowledged_is_kept_however_often_we_are_killed(tmp_path, monkeypatch, staged):
    if staged == "moved often":
        moved_often(monkeypatch)
    path = tmp_path / "kept.db"
    chance = random.Random(20_261_125)
    told = {"reading": {0}, "round": {0}, "sent": {0}}
    for _ in range(12):
        with child(writing(path)) as writer:
            heard = [writer.lines.readline() for _ in range(chance.randrange(1, 40))]
            heard += writer.kill()
        for word, number in (line.split() for line in heard):
            told[word].add(int(number))
        store = SqliteStore(path)
        rounds = [row.number for row in store.rounds(10**9)]
        readings = store.after(0)
        sent = [post.notice.number for post in store.notices(10**9) if post.sent_at]
        assert max(told["reading"]) <= store.last_arrival() == len(readings)
        assert max(told["round"]) <= len(rounds)
        assert told["sent"] <= {0, *sent}
        assert list(range(1, len(rounds) + 1)) == rounds
        assert list(range(1, len(readings) + 1)) == [r.arrival for r in readings]
        assert len(readings) / 3 == len(store.window("fig-east", T0, T0 + 10**6 * MINUTE))
        past = store.load()
        assert rounds[-1:] == [a.number for a in past.alarms] == [u.transition.number for u in past.untold]
        assert len(rounds) == len(store.transitions(limit=10**9))
        store.close()
    assert len(told["sent"]) > 12
