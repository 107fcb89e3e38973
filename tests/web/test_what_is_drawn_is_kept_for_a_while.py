import threading
from concurrent.futures import ThreadPoolExecutor

from monitor.diary import Deed, Entry
from monitor.readings import HOUR
from monitor.store.memory import MemoryStore
from monitor.store.promises import Round, RoundRow
from monitor.web.kept import Kept, diary_stands
from monitor.web.told import Told
from parts.kept import T0


def test_it_is_made_once_for_all_who_ask_and_anew_when_something_has_changed():
    kept, made = Kept(), []

    def make(thing):
        made.append(thing)
        return thing

    assert ["one", "one"] == [kept.get("fig", (1, 2), lambda: make("one")) for _ in range(2)]
    assert "two" == kept.get("fig", (1, 3), lambda: make("two"))
    assert "three" == kept.get("plum", (1, 3), lambda: make("three"))
    assert ["one", "two", "three"] == made


def test_who_comes_while_it_is_made_waits_for_it_instead_of_making_the_same():
    kept, made, begun, go_on = Kept(), [], threading.Event(), threading.Event()

    def make():
        begun.set()
        assert go_on.wait(20)
        made.append(1)
        return len(made)

    with ThreadPoolExecutor(2) as hands:
        first = hands.submit(kept.get, "week", 1, make)
        assert begun.wait(20)
        second = hands.submit(kept.get, "week", 1, make)
        go_on.set()
        assert [1, 1] == [first.result(20), second.result(20)]


def test_another_word_in_the_diary_makes_what_was_made_of_it_anew():
    store, last = MemoryStore(), []
    for number in (1, 2):
        entry = Entry(T0 - number * HOUR, T0, "ana", Deed.WATERED, "bin:fig", "", number=number)
        store.commit(Round(RoundRow(number, T0 + number, "1", 0), diary=[entry]))
        last.append(diary_stands(store))
    assert last[0] != last[1] == diary_stands(store)


def test_it_never_grows_without_end():
    kept = Kept(most=10)
    for n in range(1000):
        kept.get(str(n), n, lambda: n)
    assert len(kept._things) <= 10


def test_what_was_done_is_said_once_and_to_its_own_visit_alone():
    told = Told()
    told.say("mine", "Seen.")
    assert ["", "Seen.", ""] == [told.hear(visit) for visit in ("yours", "mine", "mine")]


def test_nobody_who_never_comes_back_fills_the_memory():
    told = Told()
    for n in range(1000):
        told.say(str(n), "Seen.")
    assert 100 == len(told._kept) and "Seen." == told.hear("999")
