"""Every sentence of promises.Versions, for every store."""

from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event, State
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.errors import BadValue
from monitor.names import Names
from monitor.notify.ledger import EMPTY, Call, Habit, Ledger, Said, changes, ledger_of
from monitor.readings import MINUTE
from monitor.store.promises import Standing, TakenUp, Version
from parts.kept import (
    AMENDMENT,
    OUTLINE,
    T0,
    advice,
    alarm,
    batch,
    decision,
    entry,
    key,
    notice,
    past,
    reading,
    round_,
    taking,
    transition,
    undated,
    untold,
)

LEE = Names(zones={"fig.west": "fig.lee"}, probes={"fig-west": "fig-lee"})
"""The west zone of the fig and its probe are called by another name."""


def values(store, probe):
    return [(r.at - T0) // MINUTE for r in store.window(probe, 0, 2 * T0)], [
        r.value for r in store.window(probe, 0, 2 * T0)
    ]


# Numbers


def test_a_new_store_has_no_settings(store):
    assert (None, None, []) == (store.in_force(), store.version(1), store.taken_up())


def test_the_first_settings_are_version_one_with_their_texts(store):
    taken = store.take_up(taking("a", amendments=(AMENDMENT,), came=("bin fig",), went=("bin date",)))
    assert TakenUp(T0, 1, "the file", (AMENDMENT,), ("bin fig",), ("bin date",)) == taken
    files = (("fig.yaml", "bins: a"), ("people.yaml", "people: {}"))
    assert Version(1, T0, "a", "rules of a", files, OUTLINE) == store.in_force() == store.version(1)


def test_each_content_has_one_number_however_often_it_is_taken_up(store):
    numbers = [store.take_up(taking(letter, minute)).number for minute, letter in enumerate("abcab")]
    assert [1, 2, 3, 1, 2] == numbers
    assert numbers == [row.number for row in store.taken_up()]
    assert [T0, T0 + MINUTE] == [store.version(number).at for number in (1, 2)]
    assert 2 == store.in_force().number


def test_the_same_text_that_means_other_rules_is_another_version(store):
    assert 1 == store.take_up(taking("a")).number
    assert 2 == store.take_up(taking("a", rules="what a newer program makes of it")).number


def test_what_is_in_force_already_writes_nothing(store):
    first = store.take_up(taking("a"))
    store.keep(batch(reading("fig-west")))
    again = store.take_up(taking("a", 5, names=LEE, amendments=(AMENDMENT,)))
    assert first == again
    assert [first] == store.taken_up()
    assert ["fig-west"] == [r.probe for r in store.after(0)]


def test_the_newest_takings_up_are_told_newest_last(store):
    for minute, letter in enumerate("abcd"):
        store.take_up(taking(letter, minute))
    assert [3, 4] == [row.number for row in store.taken_up(2)]


def test_a_taking_up_that_could_not_be_read_back_is_refused_and_nothing_has_changed(store):
    store.take_up(taking("a"))
    with pytest.raises(BadValue):
        store.take_up(taking("b", amendments=(replace(AMENDMENT, new=float("nan")),), names=LEE))
    assert 1 == store.in_force().number
    assert store.version(2) is None


# Ids that go on under another


def test_readings_of_an_old_id_are_the_new_ones(store):
    store.keep(batch(reading("fig-west", 1, 20), reading("fig-east", 1, 30), undated=[undated("fig-west")]))
    store.take_up(taking(names=LEE))
    store.keep(batch(reading("fig-lee", 2, 21)))
    assert ([1, 2], [20, 21]) == values(store, "fig-lee")
    assert ([], []) == values(store, "fig-west")
    assert ([1], [30]) == values(store, "fig-east")
    assert ["fig-lee", "fig-east", "fig-lee"] == [r.probe for r in store.after(0)]
    assert ["fig-lee"] == [u.probe for u in store.undated()]
    assert 4 == store.last_arrival()


def test_where_both_ids_have_a_reading_of_one_time_the_first_to_arrive_stays(store):
    store.keep(batch(reading("fig-west", 1, 20), reading("fig-west", 2, 20)))
    store.keep(batch(reading("fig-lee", 2, 25), reading("fig-lee", 3, 25), reading("fig-lee", 4, 25)))
    store.keep(batch(reading("fig-west", 4, 20), reading("fig-west", 5, 20)))
    store.take_up(taking(names=LEE))
    assert ([1, 2, 3, 4, 5], [20, 20, 25, 25, 20]) == values(store, "fig-lee")
    assert 5 == store.counted()
    assert [1, 2, 4, 5, 7] == [r.arrival for r in store.after(0)]


def test_a_value_that_differs_from_the_kept_one_is_counted_under_the_new_id(store):
    store.keep(batch(reading("fig-west", 1, 20), reading("fig-west", 1, 21)))
    store.keep(batch(reading("fig-lee", 2, 20), reading("fig-lee", 2, 22)))
    store.take_up(taking(names=LEE))
    store.keep(batch(reading("fig-lee", 1, 23)))
    assert {"fig-lee": 3} == store.contradictions()


def test_an_old_id_may_be_used_anew_and_has_no_past(store):
    store.keep(batch(reading("fig-west", 1, 20)))
    store.take_up(taking("a", names=LEE))
    store.take_up(taking("b"))
    store.keep(batch(reading("fig-west", 1, 40)))
    assert ([1], [40]) == values(store, "fig-west")
    assert ([1], [20]) == values(store, "fig-lee")


def test_a_new_id_that_had_readings_takes_the_old_ones_and_the_old_id_begins_anew(store):
    store.keep(batch(reading("fig-west", 1, 20), reading("fig-lee", 2, 20)))
    store.take_up(taking("a", names=LEE))
    store.keep(batch(reading("fig-west", 9, 40), reading("plum-near", 9, 50)))
    assert ([9], [40]) == values(store, "fig-west")
    assert ([9], [50]) == values(store, "plum-near")
    assert ([1, 2], [20, 20]) == values(store, "fig-lee")


def lived(store):
    """Something of everything about the west zone of the fig."""
    store.commit(
        round_(
            1,
            standing=[Standing("condition", "zone:fig.west/cold/harm", "[1]"), Standing("probe", "fig-west", "2"),
                      Standing("bin", "fig", "3"), Standing("heat", "fig.west", "4")],
            alarms=[alarm(1)], transitions=[transition(1)], past=[past(1)], advice=[advice()], notices=[notice(1)],
            decisions=[decision()], untold=[untold()], diary=[entry()],
        )
    )  # fmt: skip


def test_a_standing_alarm_follows_with_a_step_that_says_so(store):
    lived(store)
    store.take_up(taking("a", 7, names=LEE))
    (followed,) = store.load().alarms
    assert key("fig.lee") == followed.key
    assert ("fig-lee", "fig.lee", 1) == (followed.evidence.probe, followed.evidence.zone, followed.number)
    raised, renamed = store.transitions()
    assert (Event.RAISED, key("fig.lee"), "fig-lee") == (raised.event, raised.key, raised.evidence.probe)
    assert (Event.RENAMED, key("fig.lee"), T0 + 7 * MINUTE) == (renamed.event, renamed.key, renamed.at)
    assert (State.UNACKNOWLEDGED, State.UNACKNOWLEDGED) == (renamed.before, renamed.after)
    assert "Settings changed: zone:fig.west is called zone:fig.lee now." == renamed.cause


def test_what_stands_between_rounds_follows(store):
    lived(store)
    store.take_up(taking(names=LEE))
    assert {
        ("condition", "zone:fig.lee/cold/harm"): "[1]",
        ("probe", "fig-lee"): "2",
        ("bin", "fig"): "3",
        ("heat", "fig.lee"): "4",
    } == store.load().standing


def test_a_bin_takes_its_zones_history_advice_and_diary_along(store):
    lived(store)
    store.take_up(taking(names=Names(bins={"fig": "pear"}, zones={"fig.west": "pear.lee"})))
    assert [key("pear.lee")] == [a.key for a in store.load().alarms]
    assert [key("pear.zone1")] == [p.key for p in store.past_episodes()]
    assert ["pear"] == [order.target for a in store.advice("shed") for order in a.orders]
    assert ["pear"] == [e.subject for e in store.diary()]
    assert ["lay two blankets over fig"] == [order.words for a in store.advice("shed") for order in a.orders]
    assert [key("pear.east", Condition.SILENT)] == [a.cause for a in store.load().alarms]
    assert {"zone:pear.lee/cold/harm", "fig-west", "pear", "pear.lee"} == {k for _, k in store.load().standing}


def test_a_place_and_a_person_take_what_waits_to_be_told_along(store):
    lived(store)
    store.take_up(taking(names=Names(places={"shed": "barn"}, people={"keeper": "ana"})))
    (waits,) = store.load().untold
    assert ("ana", "barn", "barn") == (waits.person, waits.place, waits.transition.key.subject.place)
    assert [] == store.advice("shed")
    assert 1 == len(store.advice("barn"))
    assert {("ana", "barn")} == {(p.notice.person, p.notice.place) for p in store.notices()}
    assert [("phone", "fig: two blankets by 21:00"), ("mail", "fig: two blankets by 21:00")] == [
        (p.channel, p.notice.lines[0]) for p in store.notices()
    ]
    assert ["ana"] == [d.person for d in store.decisions()]
    assert ["ana"] == [e.who for e in store.diary()]
    store.commit(round_(2, told=[("ana", "barn")]))
    assert [] == store.load().untold


def test_what_telling_remembers_follows_with_the_ids_that_stand_in_it(store):
    habit = Habit(
        3, "2026-11-24", "shed", acts=("mat on/long-mat",), tonight=("insulate/fig",), told=(("keeper", T0),)
    )
    ledger = Ledger(
        evenings={"keeper": T0},
        said={("keeper", "shed"): {"mat on/long-mat": Said(T0, urgent=True, alarms=(1,))}},
        habits={"bin:fig/cold": habit},
        calls={7: Call(7, "bin:fig/cold", (("keeper", T0),))},
    )
    store.commit(round_(1, standing=[Standing(*one) for one in changes(EMPTY, ledger)]))
    names = Names(
        places={"shed": "barn"}, bins={"fig": "pear"}, mats={"long-mat": "mat"}, people={"keeper": "ana"}
    )  # fmt: skip
    store.take_up(taking(names=names))
    kept = {}
    for (kind, named), body in store.load().standing.items():
        kept.setdefault(kind, {})[named] = body
    assert Ledger(
        evenings={"ana": T0},
        said={("ana", "barn"): {"mat on/mat": Said(T0, urgent=True, alarms=(1,))}},
        habits={
            "bin:pear/cold": replace(
                habit, place="barn", acts=("mat on/mat",), tonight=("insulate/pear",), told=(("ana", T0),)
            )
        },
        calls={7: Call(7, "bin:pear/cold", (("ana", T0),))},
    ) == ledger_of(kept)


def test_where_both_ids_have_an_alarm_that_of_the_old_one_ends(store):
    store.commit(round_(1, alarms=[alarm(1), alarm(2, key=key("fig.lee"))], standing=[
        Standing("heat", "fig.west", "old"), Standing("heat", "fig.lee", "new")]))  # fmt: skip
    store.take_up(taking(names=LEE))
    assert [2] == [a.number for a in store.load().alarms]
    (step,) = store.transitions()
    assert (1, Event.REMOVED, State.NORMAL, "settings changed") == (
        step.number,
        step.event,
        step.after,
        step.cause,
    )
    assert {("heat", "fig.lee"): "new"} == store.load().standing
    assert 3 == store.load().next_alarm


def test_an_alarm_of_a_probe_and_one_of_the_mat_follow(store):
    probe = AlarmKey(Subject(Kind.PROBE, "fig-west", "shed"), Condition.SILENT)
    mat = AlarmKey(Subject(Kind.MAT, "long-mat", "shed"), Condition.COLD)
    daemon = AlarmKey(Subject(Kind.DAEMON, "", ""), Condition.BROKER_LOST)
    store.commit(round_(1, alarms=[alarm(1, key=probe), alarm(2, key=mat), alarm(3, key=daemon)]))
    store.take_up(taking(names=Names(probes={"fig-west": "fig-lee"}, mats={"long-mat": "mat"})))
    assert ["fig-lee", "mat", ""] == [a.key.subject.id for a in store.load().alarms]
    assert [1, 2] == [t.number for t in store.transitions()]


def test_an_id_that_nothing_is_known_of_changes_nothing(store):
    lived(store)
    before = store.load()
    store.take_up(taking(names=Names(probes={"nobody": "somebody"}, bins={"none": "some"}, people={"x": "y"})))
    assert before == store.load()


def test_what_was_renamed_is_told_in_words(store):
    names = Names(bins={"fig": "pear"}, probes={"fig-west": "pear-lee"})
    told = ("bin fig is called pear now", "probe fig-west is called pear-lee now")
    assert told == store.take_up(taking(names=names)).renamed
    assert told == store.taken_up()[0].renamed


def test_many_ids_at_once(store):
    store.keep(batch(*(reading(f"p{n}", n) for n in range(60))))
    store.commit(round_(1, transitions=[transition(n, key=key(f"b{n}.z")) for n in range(1, 61)]))
    names = Names(bins={f"b{n}": f"c{n}" for n in range(60)}, probes={f"p{n}": f"q{n}" for n in range(60)})
    store.take_up(taking(names=names))
    assert [f"q{n}" for n in range(60)] == [r.probe for r in store.after(0)]
    assert [f"c{n}.z" for n in range(1, 60)] == [t.key.subject.id for t in store.transitions()][:59]
