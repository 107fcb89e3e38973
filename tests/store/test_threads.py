"""Any thread may call; one thread writes; readers neither wait for it nor see half of what it does."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from monitor.errors import StoreError
from monitor.readings import MINUTE
from monitor.store.sqlite import SqliteStore
from parts.kept import T0, batch, moved_often, reading, round_, untold

WRITERS = 4
BATCHES = 40
PATIENCE = 60


@pytest.fixture(params=["moved often", "moved seldom"])
def store(request, tmp_path, monkeypatch):
    if request.param == "moved often":
        moved_often(monkeypatch)
    store = SqliteStore(tmp_path / "kept.db")
    yield store
    store.close()


def writer_threads():
    return [t for t in threading.enumerate() if t.name.startswith("store-writer")]


def test_one_thread_writes_whoever_calls(store):
    with ThreadPoolExecutor(8) as callers:
        list(callers.map(lambda n: store.keep(batch(reading(minute=n))), range(50)))
        list(callers.map(lambda n: store.ask(T0, "ana", "seen", n), range(50)))
    assert 1 == len(writer_threads())
    store.close()
    assert [] == writer_threads()


def keeping(store, probe):
    for number in range(BATCHES):
        store.keep(batch(*(reading(probe, number * 5 + n, n) for n in range(5))))


def growing(store, stop, probes):
    """Reads until told to stop; every answer must be whole batches, and hold what the one before held."""
    seen, looks = dict.fromkeys(probes, 0), 0
    while not stop.is_set():
        for probe in probes:
            window = store.window(probe, T0, T0 + 10**5 * MINUTE)
            assert 0 == len(window) % 5, "half a batch was seen"
            assert len(window) >= seen[probe], "what was seen is gone"
            assert [T0 + n * MINUTE for n in range(len(window))] == [r.at for r in window]
            seen[probe] = len(window)
            newest = store.latest(probe)
            assert not window or newest[0].at >= window[-1].at
        after = [r.arrival for r in store.after(0)]
        assert list(range(1, len(after) + 1)) == after
        looks += 1
    return looks


def test_readers_see_whole_batches_and_never_less_than_before(store):
    stop = threading.Event()
    probes = [f"p{n}" for n in range(WRITERS)]
    with ThreadPoolExecutor(WRITERS + 2) as pool:
        readers = [pool.submit(growing, store, stop, probes) for _ in range(2)]
        writers = [pool.submit(keeping, store, probe) for probe in probes]
        try:
            for one in writers:
                one.result(PATIENCE)
        finally:
            stop.set()
        assert all(one.result(PATIENCE) > 0 for one in readers)
    assert WRITERS * BATCHES * 5 == store.counted() == store.last_arrival()


def test_a_look_from_outside_sees_whole_rounds(store):
    stop = threading.Event()
    outside = SqliteStore(store.path, read_only=True)

    def looking():
        looks = 0
        while not stop.is_set():
            past = outside.load()
            number = past.last_round.number if past.last_round else 0
            assert [number] * min(number, 3) == [u.transition.number for u in past.untold], "half a round was seen"
            looks += 1
        return looks

    with ThreadPoolExecutor(1) as pool:
        look = pool.submit(looking)
        try:
            for number in range(1, 60):
                store.commit(
                    round_(number, told=[("keeper", "shed")], untold=[untold(number=number)] * min(number, 3))
                )
        finally:
            stop.set()
        assert look.result(PATIENCE) > 0
    outside.close()


def test_an_error_comes_to_the_caller_and_the_writer_lives_on(store):
    store.commit(round_(5))
    with ThreadPoolExecutor(4) as callers:
        refused = [callers.submit(store.commit, round_(5)) for _ in range(8)]
        for one in refused:
            with pytest.raises(StoreError, match="round 5"):
                one.result(PATIENCE)
    store.commit(round_(6))
    assert 6 == store.load().last_round.number


def test_closing_finishes_what_was_begun(store):
    begun, go_on = threading.Event(), threading.Event()

    def slow(file):
        begun.set()
        assert go_on.wait(PATIENCE)
        file.execute("INSERT INTO request (at, who, what, alarm, note) VALUES (1, 'ana', 'seen', 1, '')")

    with ThreadPoolExecutor(3) as pool:
        writing = pool.submit(store._write, slow)
        assert begun.wait(PATIENCE)
        waiting = pool.submit(store.keep, batch(reading()))
        closing = pool.submit(store.close)
        go_on.set()
        writing.result(PATIENCE)
        closing.result(PATIENCE)
        try:
            waiting.result(PATIENCE)
            kept = 1
        except StoreError:  # closing overtook it: then it was refused, not lost
            kept = 0
    again = SqliteStore(store.path)
    assert [1] == [request.id for request in again.asked()]
    assert kept == again.counted()
    again.close()
