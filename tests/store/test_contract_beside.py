"""What messages tell of their senders is kept by topic, the newest of each."""

from monitor.readings import Beside
from monitor.store.promises import Batch
from parts.kept import batch, reading


def test_nothing_is_told_at_first(store):
    assert {} == store.beside()


def test_the_newest_of_each_is_kept_until_another_is_told(store):
    store.keep(Batch(beside=[Beside("a", 81, "%", -60, "dBm"), Beside("b", signal=40)]))
    store.keep(Batch(beside=[Beside("a", battery=80, battery_unit="V"), Beside("b", battery=3.1)]))
    assert {"a": Beside("a", 80, "V", -60, "dBm"), "b": Beside("b", 3.1, "", 40, "")} == store.beside()


def test_a_batch_without_it_changes_nothing_of_it(store):
    store.keep(Batch(beside=[Beside("a", 81, "%")]))
    store.keep(batch(reading()))
    assert {"a": Beside("a", 81, "%")} == store.beside()


def test_an_empty_battery_is_told_like_any_other(store):
    store.keep(Batch(beside=[Beside("a", 5, "%")]))
    store.keep(Batch(beside=[Beside("a", 0, "%")]))
    assert 0 == store.beside()["a"].battery
