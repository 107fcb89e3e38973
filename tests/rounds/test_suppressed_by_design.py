"""Suppression by design through whole rounds: a broker or a store that fails explains every silence, once, and what still stands
afterwards is told as it then stands.
"""

from dataclasses import replace

import pytest

from monitor.checks.system import System
from monitor.rules import Place
from parts import orchard
from parts.asking import ask, reasons, shelve, told, work
from parts.house import House
from parts.orchard import ms


def only_thermometers(bed):
    zones = (replace(z, probes=tuple(p for p in z.probes if p.measures == "temperature")) for z in bed.zones)
    return replace(bed, zones=tuple(z for z in zones if z.role == "living"))


PLUM, SLOE = map(only_thermometers, (orchard.PLUM, orchard.SLOE))
PLACES = {"shed": Place("shed", "Shed"), "porch": Place("porch", "Porch")}


def silent():
    """plum-near, Plum's only probe, has fallen silent, and so nobody watches Plum."""
    rules = replace(orchard.rules(bins=(PLUM, SLOE), people=(orchard.ANA,)), places=PLACES)
    house = House(rules=rules, at=ms("10:00"))
    house.say(plum_near=18.0, sloe_top=24.0)
    for _ in range(5):
        house.later(10).say(sloe_top=24.0)
    return house


def lose(house, minutes=6):
    house.system = System(link_up=False, link_since=house.at)
    house.later(minutes).rounds.run()


def find(house, **celsius):
    house.system = System(link_up=True, link_since=house.at)
    house.later(1).say(**celsius)


def standing(house):
    return {condition: alarm for (_, condition), alarm in house.standing().items()}


def test_the_only_probe_explains_that_nobody_watches_its_bin():
    house = silent()
    found = standing(house)
    assert (found["silent"].key, None) == (found["unwatched"].cause, found["silent"].cause)
    assert 1 == len(told(house))
    assert {"not told"} == {r[1] for r in reasons(house, found["unwatched"].number)}


def test_a_lost_broker_explains_what_was_silent_before_and_what_is_not_watched():
    house = silent()
    lose(house)
    found = standing(house)
    assert {"broker lost"} == {a.cause.condition for c, a in found.items() if c != "broker lost"}
    assert found["broker lost"].cause is None
    assert 2 == len(told(house))
    assert "Vermistat" in told(house)[-1]


def test_found_again_and_still_silent_is_told_again():
    house = silent()
    lose(house)
    find(house, sloe_top=24.0)
    found = standing(house)
    assert (None, False) == (found["silent"].cause, found["silent"].suppressed)
    assert ("unsuppressed", "told") == reasons(house, found["silent"].number)[-1][:2]
    assert found["unwatched"].suppressed  # its own probe explains it again, without a word


def test_found_again_and_well_is_not_told_again():
    house = silent()
    number = standing(house)["silent"].number
    lose(house)
    find(house, sloe_top=24.0, plum_near=18.0)
    assert "silent" not in standing(house)
    assert "told" not in {verdict for event, verdict, _ in reasons(house, number) if event != "raised"}


def test_what_somebody_has_seen_before_is_not_told_again():
    house = silent()
    number = standing(house)["silent"].number
    ask(house, "seen", number)
    lose(house)
    find(house, sloe_top=24.0)
    assert ("unsuppressed", "not told", "Somebody has seen it before, and it is the same still.") == reasons(
        house, number
    )[-1]


def test_cold_is_explained_by_nothing_and_told_whatever_else_fails():
    house = silent()
    house.later(15).say(sloe_top=5.0)
    lose(house)
    assert "cold" not in {c for c, a in standing(house).items() if a.suppressed}


@pytest.mark.parametrize("order", ["broker first", "work first", "shelf first"])
def test_three_suppressions_over_one_alarm_end_one_by_one_and_it_is_told_after_the_last(order):
    house = silent()
    number = standing(house)["silent"].number
    begin = {
        "broker": lambda: lose(house),
        "work": lambda: work(house, "plum", hours=6),
        "shelf": lambda: shelve(house, number, hours=6),
    }
    first = order.split()[0]
    for name in (first, *(n for n in begin if n != first)):
        begin[name]()
    before = len(told(house))
    find(house, sloe_top=24.0)
    assert standing(house)["silent"].suppressed
    work(house.later(5), "plum", hours=0)
    assert standing(house)["silent"].suppressed
    silent_of = [r for r in reasons(house, number) if r[0] in ("unsuppressed", "back in service", "unshelved")]
    assert {"not told"} == {r[1] for r in silent_of}
    ask(house.later(5), "unshelve", number)
    assert not standing(house)["silent"].suppressed
    assert ("unshelved", "told", "ana is awake.") == reasons(house, number)[-1]
    assert before < len(told(house))


def test_each_suppression_is_recorded_with_its_cause():
    house = silent()
    number = standing(house)["silent"].number
    lose(house)
    find(house, sloe_top=24.0)
    mine = [(str(t.event), t.cause) for t in house.store.story(number).transitions][1:]
    assert [
        ("suppressed", "Explained by broker lost (daemon)."),
        ("unsuppressed", "What explained it is over."),
    ] == mine


def test_a_restart_in_between_changes_nothing():
    lived = []
    for restarted in (False, True):
        house = silent()
        lose(house)
        if restarted:
            house.restart()
        find(house, sloe_top=24.0)
        lived.append((house.store.transitions(), house.store.notices()))
    assert lived[0] == lived[1]
