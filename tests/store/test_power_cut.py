"""What was acknowledged is there after a power cut; without waiting for the disk it is not, so this test can fail.

The daemon's store works on a small disk. The disk is copied as it is, nothing written out, and the copy is mounted
like a disk after the power came back.
"""

import json

import pytest

from monitor.store import connections
from monitor.store.promises import Standing
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.kept import batch, moved_often, reading, round_
from parts.loop_disk import copied, formatted, mounted

ENOUGH = 400


def deciding(number):
    return round_(number, upto=number, standing=[Standing("condition", "hot", json.dumps(number))])


def quiet(number):
    return round_(number, upto=number)


def writing(path, made):
    """Keeps readings and commits rounds, and says each number once it is acknowledged."""

    def work(say):
        store = SqliteStore(path)
        for number in range(1, 1_000_000):
            store.keep(batch(reading(minute=number, value=number % 40)))
            store.commit(made(number))
            say(number)

    return work


def after_a_power_cut(folder, made=deciding):
    """The numbers that were acknowledged, that were kept as readings, and that were kept as rounds."""
    image = formatted(folder / "disk", 32)
    with mounted(image, folder / "shed", "commit=600") as disk, child(writing(disk / "kept.db", made)) as writer:
        acknowledged = [int(writer.lines.readline()) for _ in range(ENOUGH)]
        writer.stop()
        cut = copied(image, folder / "cut")
    with mounted(cut, folder / "again") as disk:
        store = SqliteStore(disk / "kept.db")
        readings, rounds = store.after(0), store.rounds(10**9)
        store.close()
    return acknowledged, [r.arrival for r in readings], [row.number for row in rounds]


@pytest.mark.parametrize("staged", ["moved often", "moved seldom"])
def test_whatever_was_acknowledged_is_there_after_a_power_cut(tmp_path, monkeypatch, staged):
    if staged == "moved often":
        moved_often(monkeypatch)
    acknowledged, readings, rounds = after_a_power_cut(tmp_path)
    assert list(range(1, ENOUGH + 1)) == acknowledged
    assert acknowledged == readings[:ENOUGH] == rounds[:ENOUGH]
    assert list(range(1, len(readings) + 1)) == readings
    assert list(range(1, len(rounds) + 1)) == rounds


def test_of_quiet_rounds_the_last_may_be_missing_and_no_reading_is(tmp_path):
    # its readings are seen again by the next one, and decide nothing again
    acknowledged, readings, rounds = after_a_power_cut(tmp_path, quiet)
    assert acknowledged == readings[:ENOUGH]
    assert list(range(1, len(rounds) + 1)) == rounds
    assert len(readings) - len(rounds) in (0, 1), "each batch takes the round before it along"


@pytest.mark.parametrize("synchronous", ["NORMAL", "OFF"])
def test_the_same_cut_loses_what_was_not_waited_for(tmp_path, monkeypatch, synchronous):
    monkeypatch.setattr(connections, "SYNCHRONOUS", synchronous)
    acknowledged, readings, rounds = after_a_power_cut(tmp_path)
    assert len(readings) < len(acknowledged)
    assert len(rounds) < len(acknowledged)
