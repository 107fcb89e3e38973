"""What a commit costs the card, in pages: counted, not timed."""

import pytest

from monitor.store import migrations
from monitor.store.promises import Batch, Delivered, Standing
from monitor.store.sqlite import SqliteStore
from parts.frames import Frames
from parts.kept import T0, batch, reading, refusal, round_


@pytest.fixture
def store(tmp_path):
    store = SqliteStore(tmp_path / "kept.db")
    store.commit(round_(1))
    store.keep(batch(*(reading(f"p{n}") for n in range(8))))
    yield store
    store.close()


@pytest.fixture
def frames(store):
    frames = Frames(store.path)
    frames.look()
    return frames


def eight(minute):
    return [reading(f"p{n}", minute, 20 + n) for n in range(8)]


def test_a_quiet_round_writes_one_page(store, frames):
    assert [1] * 20 == [(store.commit(round_(number)), frames.look())[1] for number in range(2, 22)]


def test_an_hour_of_eight_probes_writes_three_and_a_half_pages_a_minute_at_most(store, frames):
    before = frames.total
    for minute in range(1, 61):
        store.keep(Batch(eight(minute)))
        frames.look()
        store.commit(round_(minute + 1))
        frames.look()
    assert 2 * 60 <= frames.total - before <= 3.5 * 60


def test_deliveries_add_one_page_to_a_batch(store, frames):
    store.keep(Batch(eight(1)))
    without = frames.look()
    store.keep(Batch(eight(2), delivered=[Delivered(n, n) for n in range(8)]))
    assert frames.look() <= without + 1


def test_the_same_batch_again_writes_nothing(store, frames):
    store.keep(batch(*(reading(f"p{n}") for n in range(8))))
    store.keep(Batch())
    assert 0 == frames.look()


def test_a_document_that_says_what_stands_already_writes_no_page(store, frames):
    documents = [Standing("condition", f"bin {n}", "x" * 200) for n in range(40)]
    store.commit(round_(2, standing=documents))
    assert frames.look() > 8
    store.commit(round_(3, standing=documents))
    assert 1 == frames.look()


def test_looking_writes_nothing(store, frames):
    outside = SqliteStore(store.path, read_only=True)
    for one in (store, outside):
        one.after(0), one.window("p1", 0, T0), one.latest("p1"), one.load(), one.due(T0), one.asked()
    outside.close()
    assert 0 == frames.look()


def test_a_page_is_as_large_as_was_measured_best(store):
    assert migrations.PAGE == store._all("PRAGMA page_size")[0][0] == 1024


def test_refusals_and_deliveries_do_not_grow_for_ever(store):
    refusals = [refusal(number=n) for n in range(500)]
    deliveries = [Delivered(n, n) for n in range(5000)]
    for _ in range(30):
        store.keep(Batch(refusals=refusals, delivered=deliveries))
    assert 1000 <= len(store.refusals(10**6)) <= 1000 + 4096 + 500
    ((bytes_kept,),) = store._all("SELECT sum(length(packed)) FROM delivery")
    assert 65_536 * 10 <= bytes_kept <= (65_536 + 4096 + 5000) * 10
