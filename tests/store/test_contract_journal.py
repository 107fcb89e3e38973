"""Every sentence of promises.Journal, for every store."""

import math
from dataclasses import fields, replace

import pytest

from monitor.alarms.cycle import Event, State
from monitor.alarms.holds import Shelf, Work, shelf_text, shelves_in, work_text, works_in
from monitor.checks.findings import Condition
from monitor.errors import BadValue, StoreError
from monitor.notify.notices import Post, Verdict
from monitor.readings import HOUR, MINUTE
from monitor.rules import Level
from monitor.store.promises import APART, Past, Request, Round, RoundRow, Standing, Story
from parts.kept import (
    EVIDENCE,
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
    transition,
    untold,
)  # fmt: skip

NOTHING = Past(
    last_round=None, standing={}, alarms=[], advice=[], untold=[], next_alarm=1, next_notice=1
)  # fmt: skip


def journal(store):
    return (
        store.load(), store.transitions(), store.past_episodes(), store.advice("shed", 99), store.notices(),
        store.decisions(), store.rounds(), store.diary(), store.asked(),
    )  # fmt: skip


def everything(number=1, **more):
    return round_(
        number,
        standing=[Standing("condition", f"fig/{number}", "[1]"), Standing("probe", "fig-west", str(number))],
        alarms=[alarm(number)],
        transitions=[transition(number)],
        past=[past(number)],
        advice=[advice(number=number)],
        notices=[notice(number)],
        decisions=[decision(number)],
        untold=[untold(number=number)],
        diary=[entry(text=f"blanket {number}")],
        **more,
    )


def test_a_new_store_has_nothing_standing(store):
    assert NOTHING == store.load()
    assert (NOTHING, [], [], [], [], [], [], [], []) == journal(store)
    assert store.heard_of(1) is None


def test_a_whole_round_comes_back(store):
    store.commit(everything(1, upto=17, settings="version 3"))
    row = RoundRow(1, T0 + MINUTE, "version 3", 17)
    assert [row] == store.rounds()
    assert (
        Past(
            last_round=row,
            standing={("condition", "fig/1"): "[1]", ("probe", "fig-west"): "1"},
            alarms=[alarm(1)],
            advice=[advice(number=1)],
            untold=[untold(number=1)],
            next_alarm=2,
            next_notice=2,
        )
        == store.load()
    )
    assert [transition(1)] == store.transitions()
    assert [past(1)] == store.past_episodes()
    assert [advice(number=1)] == store.advice("shed")
    assert [Post(notice(1), "phone"), Post(notice(1), "mail")] == store.notices()
    assert [decision(1)] == store.decisions()
    assert [entry(text="blanket 1")] == store.diary()
    assert alarm(1) == store.heard_of(1)


def test_a_quiet_round_is_a_row(store):
    store.commit(everything(1))
    before = store.load()
    store.commit(round_(2, upto=5))
    assert replace(before, last_round=RoundRow(2, T0 + 2 * MINUTE, "1", 5)) == store.load()


@pytest.mark.parametrize("number", [7, 6, 1, 0, -3])
def test_a_round_number_that_is_not_above_the_last_is_refused_and_nothing_is_kept(store, number):
    store.commit(everything(7))
    before = journal(store)
    with pytest.raises(StoreError):
        store.commit(replace(everything(8), row=RoundRow(number, T0 + HOUR, "2", 9)))
    assert before == journal(store)


def test_round_numbers_may_leave_gaps(store):
    store.commit(round_(3))
    store.commit(round_(90))
    assert [3, 90] == [row.number for row in store.rounds()]


def test_the_newest_rounds_are_given_newest_last(store):
    for number in range(1, 8):
        store.commit(round_(number, settings=f"version {number % 3}", upto=number * 10))
    assert [
        RoundRow(6, T0 + 6 * MINUTE, "version 0", 60),
        RoundRow(7, T0 + 7 * MINUTE, "version 1", 70),
    ] == store.rounds(limit=2)
    assert list(range(1, 8)) == [row.number for row in store.rounds()]
    assert [] == store.rounds(limit=0)


def test_a_standing_document_replaces_the_one_of_its_kind_and_key(store):
    store.commit(round_(1, standing=[Standing("a", "x", "1"), Standing("b", "x", "2"), Standing("a", "y", "3")]))
    store.commit(round_(2, standing=[Standing("a", "x", "4"), Standing("b", "x", "2")]))
    assert {("a", "x"): "4", ("b", "x"): "2", ("a", "y"): "3"} == store.load().standing


def test_a_standing_document_without_body_is_removed(store):
    store.commit(round_(1, standing=[Standing("a", "x", "1"), Standing("b", "x", "2")]))
    store.commit(round_(2, standing=[Standing("a", "x", None), Standing("never", "there", None)]))
    assert {("b", "x"): "2"} == store.load().standing


def test_standing_documents_may_be_asked_for_by_what_their_keys_begin_with(store):
    keys = [
        "zone:fig",
        "zone:fig/00",
        "zone:fig/23",
        "zone:fig.west",
        "zone:fig0",
        "zone:fi",
        "zone:plum",
        "zone:figs/01",
    ]
    store.commit(round_(1, standing=[Standing("a", key, key) for key in keys] + [Standing("b", "zone:fig", "no")]))
    assert set(keys) == set(store.standing("a"))
    assert {"zone:fig", "zone:fig/00", "zone:fig/23"} == set(store.standing("a", ["zone:fig"]))
    assert {"zone:plum": "zone:plum", "zone:fi": "zone:fi"} == store.standing(
        "a", ("zone:plum", "zone:fi", "zone:none")
    )
    assert {} == store.standing("a", [])


def test_standing_documents_of_one_round_are_taken_in_order(store):
    store.commit(round_(1, standing=[Standing("a", "x", "1"), Standing("a", "x", None), Standing("a", "x", "2")]))
    store.commit(round_(2, standing=[Standing("a", "y", "1"), Standing("a", "y", None)]))
    assert {("a", "x"): "2"} == store.load().standing


def test_a_standing_document_may_be_long_and_in_any_script(store):
    body = "{" + "°C – 温度 \x00 " * 20_000 + "}"
    store.commit(round_(1, standing=[Standing("läng", "keÿ", body)]))
    assert {("läng", "keÿ"): body} == store.load().standing


def test_an_alarm_replaces_the_one_of_its_number(store):
    store.commit(round_(1, alarms=[alarm(2), alarm(1)]))
    seen = alarm(2, state=State.ACKNOWLEDGED, level=None, cause=None)
    store.commit(round_(2, alarms=[seen]))
    assert [alarm(1), seen] == store.load().alarms
    assert seen == store.heard_of(2)


def test_what_people_have_laid_over_an_alarm_comes_back_with_it(store):
    held = alarm(
        1,
        shelf=Shelf(T0, T0 + HOUR, "ana", Level.HARM, 1, "tonight – “later”"),
        work=Work("fig", T0, T0 + HOUR, "ben", "turning", (3, 4)),
    )
    row = transition(1, event=Event.SHELVED, who="ana", note="tonight", until=T0 + HOUR)
    documents = [
        Standing("shelf", "bin:fig/cold", shelf_text(held.shelf)),
        Standing("work", "bin:fig", work_text(held.work)),
    ]
    store.commit(round_(1, alarms=[held], transitions=[row], standing=documents))
    assert (held, [row]) == (store.heard_of(1), store.transitions())
    standing = store.load().standing
    assert {"bin:fig/cold": held.shelf} == shelves_in(standing)
    assert {"fig": held.work} == works_in(standing)


def test_a_round_that_is_refused_keeps_no_shelf(store):
    store.commit(everything(7))
    document = Standing("shelf", "bin:fig/cold", shelf_text(Shelf(T0, T0 + HOUR, "ana", Level.HARM, 1)))
    with pytest.raises(StoreError):
        store.commit(round_(7, standing=[document]))
    assert {} == shelves_in(store.load().standing)


def test_an_ended_alarm_stands_no_more(store):
    store.commit(round_(1, alarms=[alarm(1), alarm(2)]))
    store.commit(round_(2, ended=[1, 77]))
    assert [alarm(2)] == store.load().alarms
    assert store.heard_of(1) is None


def test_ended_is_applied_after_alarms(store):
    store.commit(round_(1, alarms=[alarm(1)], ended=[1]))
    assert [] == store.load().alarms


def test_alarm_numbers_are_never_given_again(store):
    store.commit(round_(1, alarms=[alarm(5)]))
    assert 6 == store.load().next_alarm
    store.commit(round_(2, ended=[5]))
    assert 6 == store.load().next_alarm
    store.commit(round_(3, transitions=[transition(9)]))
    assert 10 == store.load().next_alarm
    store.commit(round_(4, ended=[12]))
    assert 13 == store.load().next_alarm
    store.commit(round_(5, alarms=[alarm(2)], transitions=[transition(3)]))
    assert 13 == store.load().next_alarm


def test_notice_numbers_are_never_given_again(store):
    store.commit(round_(1, notices=[notice(4)]))
    assert 5 == store.load().next_notice
    store.commit(round_(2, notices=[notice(9, channels=())]))
    assert 10 == store.load().next_notice


@pytest.mark.parametrize("numbers", [[4], [3], [5, 5], [6, 2]])
def test_a_notice_number_that_was_used_is_refused_and_nothing_is_kept(store, numbers):
    store.commit(everything(1))
    store.commit(round_(2, notices=[notice(4)]))
    before = journal(store)
    with pytest.raises(StoreError):
        store.commit(replace(everything(3), notices=[notice(number) for number in numbers]))
    assert before == journal(store)


def test_transitions_are_given_from_start_to_end(store):
    for number, at in enumerate([T0 + 50, T0 + 10, T0 + 30, T0 + 20], start=1):
        store.commit(round_(number, transitions=[transition(number, at)]))
    assert [1, 2, 3, 4] == [t.number for t in store.transitions()]
    assert [3, 4] == [t.number for t in store.transitions(T0 + 20, T0 + 50)]
    assert [1, 3, 4] == [t.number for t in store.transitions(start=T0 + 20)]
    assert [2, 4] == [t.number for t in store.transitions(end=T0 + 30)]
    assert [3, 4] == [t.number for t in store.transitions(limit=2)]
    assert [] == store.transitions(limit=0) == store.transitions(T0 + 51)


def test_transitions_of_one_round_keep_their_order(store):
    steps = [transition(3, event=Event.RAISED), transition(1, event=Event.ROSE), transition(3, event=Event.FELL)]
    store.commit(round_(1, transitions=steps))
    assert steps == store.transitions()


def test_a_transition_may_lack_level_evidence_and_person(store):
    bare = transition(level=None, evidence=None, who=None)
    full = transition(who="keeper")
    store.commit(round_(1, transitions=[bare, full]))
    assert [bare, full] == store.transitions()


def test_the_story_of_one_alarm_is_all_of_it_and_nothing_else(store):
    mine = [transition(2, T0 + 50), transition(2, T0 + 10, event=Event.ROSE), transition(2, T0 + 90, who="ana")]
    store.commit(round_(1, transitions=[mine[0], transition(1)], decisions=[decision(2, 1), decision(1, 1)]))
    store.commit(round_(2, transitions=[transition(3), mine[1]], decisions=[decision(2, 2)]))
    for number in range(3, 9):
        store.commit(round_(number, transitions=[transition(number + 100)], decisions=[decision(0, number)]))
    store.commit(round_(9, transitions=[mine[2]], decisions=[decision(2, 9)], ended=[2]))
    assert Story(mine, [decision(2, 1), decision(2, 2), decision(2, 9)]) == store.story(2)
    assert Story([transition(1)], [decision(1, 1)]) == store.story(1)
    assert Story([], []) == store.story(99)


def test_the_story_knows_no_limit(store):
    steps = [transition(1, T0 + n) for n in range(1500)]
    store.commit(round_(1, transitions=steps, decisions=[decision(1, n) for n in range(1200)]))
    story = store.story(1)
    assert (steps, 1200) == (story.transitions, len(story.decisions))


def test_past_episodes_are_given_newest_last(store):
    for number in range(1, 6):
        store.commit(round_(number, past=[past(number)]))
    assert [past(4), past(5)] == store.past_episodes(limit=2)


def test_advice_is_kept_by_place_and_the_newest_stands(store):
    for number in range(1, 4):
        store.commit(round_(number, advice=[advice("shed", number), advice("attic", number)]))
    store.commit(round_(4, advice=[advice("shed", 4)]))
    assert [advice("attic", 3), advice("shed", 4)] == store.load().advice
    assert [advice("shed", 4)] == store.advice("shed")
    assert [advice("attic", 2), advice("attic", 3)] == store.advice("attic", limit=2)
    assert [] == store.advice("nowhere")


def test_advice_that_nothing_needs_doing_stands_too(store):
    nothing = replace(advice(number=2), orders=())
    store.commit(round_(1, advice=[advice(number=1)]))
    store.commit(round_(2, advice=[nothing]))
    assert [nothing] == store.load().advice


def test_decisions_are_given_newest_last_of_all_or_one_alarm(store):
    told = replace(decision(2, 3), verdict=Verdict.TOLD, until=None, notice=7)
    store.commit(round_(1, decisions=[decision(1, 1), decision(2, 2)]))
    store.commit(round_(2, decisions=[told, decision(1, 4)]))
    assert [decision(1, 1), decision(2, 2), told, decision(1, 4)] == store.decisions()
    assert [decision(2, 2), told] == store.decisions(alarm=2)
    assert [told, decision(1, 4)] == store.decisions(limit=2)
    assert [decision(1, 4)] == store.decisions(alarm=1, limit=1)
    assert [] == store.decisions(alarm=9)


def test_untold_steps_wait_in_order(store):
    store.commit(round_(1, untold=[untold("ana", "shed", 1), untold("ben", "shed", 1)]))
    store.commit(round_(2, untold=[untold("ana", "attic", 2), untold("ana", "shed", 3)]))
    assert [
        untold("ana", "shed", 1), untold("ben", "shed", 1), untold("ana", "attic", 2), untold("ana", "shed", 3),
    ] == store.load().untold  # fmt: skip


def test_telling_clears_the_whole_queue_of_a_person_and_place(store):
    store.commit(round_(1, untold=[untold("ana", "shed", 1), untold("ben", "shed", 2), untold("ana", "attic", 3)]))
    store.commit(round_(2, untold=[untold("ana", "shed", 4)]))
    store.commit(round_(3, told=[("ana", "shed"), ("nobody", "shed")]))
    assert [untold("ben", "shed", 2), untold("ana", "attic", 3)] == store.load().untold


def test_what_is_newly_untold_survives_telling_in_the_same_round(store):
    store.commit(round_(1, untold=[untold("ana", "shed", 1)]))
    store.commit(round_(2, told=[("ana", "shed")], untold=[untold("ana", "shed", 2)]))
    assert [untold("ana", "shed", 2)] == store.load().untold


def test_the_diary_is_given_by_the_time_it_tells_of(store):
    store.commit(round_(1, diary=[entry(T0 + 30, "c"), entry(T0 + 10, "a")]))
    store.commit(round_(2, diary=[entry(T0 + 20, "b"), entry(T0 + 30, "d")]))
    assert ["a", "b", "c", "d"] == [e.text for e in store.diary()]
    assert ["c", "d"] == [e.text for e in store.diary(limit=2)]


def test_a_round_deals_with_requests(store):
    first, second = store.ask(T0, "ana", "seen", 4), store.ask(T0 + 5, "ben", "done", 5, "two blankets")
    store.commit(round_(1, requests=[first, 999]))
    assert [Request(second, T0 + 5, "ben", "done", 5, "two blankets")] == store.asked()
    store.commit(round_(2, requests=[first, second]))
    assert [] == store.asked()


@pytest.mark.parametrize(
    "spoilt",
    [
        {"alarms": [alarm(evidence=replace(EVIDENCE, value=math.nan))]},
        {"transitions": [transition(evidence=replace(EVIDENCE, bound=math.inf))]},
        {"transitions": [transition(cause="\ud800")]},
        {"diary": [entry(text="half a \udfff")]},
        {"decisions": [replace(decision(), verdict="perhaps")]},
        {"notices": [replace(notice(), lines=["a", "list"])]},
    ],
)
def test_what_could_not_be_read_back_is_refused_and_nothing_is_kept(store, spoilt):
    store.commit(everything(1))
    before = journal(store)
    with pytest.raises(BadValue):
        store.commit(replace(everything(2), **spoilt))
    assert before == journal(store)


def test_whole_numbers_for_floats_come_back_equal(store):
    whole = transition(evidence=replace(EVIDENCE, value=14, bound=15))
    store.commit(round_(1, transitions=[whole]))
    assert [whole] == store.transitions()


def test_every_condition_comes_back(store):
    alarms = [alarm(number, key=key(condition=what)) for number, what in enumerate(Condition, start=1)]
    store.commit(round_(1, alarms=alarms))
    assert alarms == store.load().alarms


def test_readings_and_rounds_do_not_touch_each_other(store):
    store.commit(everything(1))
    store.keep(batch(reading()))
    store.commit(round_(2, upto=1))
    assert 1 == store.counted() == store.load().last_round.upto_arrival


def test_after_closing_nothing_is_answered_or_kept(store):
    store.commit(everything(1))
    store.close()
    for ask in (
        store.load, store.rounds, store.asked, store.notices, store.waiting,
        lambda: store.commit(everything(2)), lambda: store.ask(T0, "ana", "seen", 1),
        lambda: store.sent(1, "phone", T0),
    ):  # fmt: skip
        with pytest.raises(StoreError):
            ask()


def test_a_round_is_quiet_only_when_its_row_is_all_it_holds():
    assert round_(1, upto=7).is_quiet
    for one in fields(Round):
        if one.name != "row":
            assert not round_(1, **{one.name: [1]}).is_quiet


def test_long_documents_are_left_out_of_what_stands_and_asked_for_by_their_kind(store):
    documents = [Standing(kind, f"zone:{kind}", "[1]") for kind in sorted(APART)]
    store.commit(round_(1, standing=[*documents, Standing("bed hour", "zone:fig.west/07", "[2]")]))
    assert {} == store.load().standing
    assert {"zone:bed": "[1]"} == store.standing("bed")
    assert {"zone:bed hour": "[1]", "zone:fig.west/07": "[2]"} == store.standing("bed hour")
    store.commit(round_(2, standing=[Standing("bed", "zone:bed", None), Standing("probe", "fig", "3")]))
    assert {} == store.standing("bed")
    assert {("probe", "fig"): "3"} == store.load().standing
    assert {"fig": "3"} == store.standing("probe")
