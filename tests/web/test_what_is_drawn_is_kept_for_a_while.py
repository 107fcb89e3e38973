from monitor.web.kept import Kept
from monitor.web.told import Told


def test_it_is_made_once_for_all_who_ask_and_anew_when_something_has_changed():
    kept, made = Kept(), []

    def make(thing):
        made.append(thing)
        return thing

    assert ["one", "one"] == [kept.get("fig", (1, 2), lambda: make("one")) for _ in range(2)]
    assert "two" == kept.get("fig", (1, 3), lambda: make("two"))
    assert "three" == kept.get("plum", (1, 3), lambda: make("three"))
    assert ["one", "two", "three"] == made


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
