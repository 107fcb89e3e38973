"""A power cut over a life of rounds: told once with what it explains; a restarted service says nothing of it."""

import pytest

from monitor.readings import DAY, MINUTE, SECOND
from parts import orchard
from parts.board import Board, awake
from parts.house import warm

CLIMATE = warm() | {"fig_east_damp": 1800, "shed_air": 5.0, "shed_damp": 80.0}


def lived(**more):
    people = more.pop("people", (awake(orchard.ANA),))
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=people), synced=True, **more)
    board.say(**CLIMATE)
    for n in range(8):
        board.later(15).say(**CLIMATE | {"fig_east_damp": 1800 + n})
    return board


def power(board):
    return [s for s in board.steps(without=()) if s[1] == "power came back"]


def notices(board):
    return [p.notice for p in board.store.notices(1000) if "on again" in p.notice.title]


@pytest.mark.parametrize("wakes", ["right", "epoch", "saved"])
def test_the_power_came_back_and_that_is_told_once_with_how_long_it_was_off(wakes):
    board = lived()
    cut = board.truth
    board.power_off(190, wakes)
    if wakes != "right":
        board.later(1).say()
    board.set_clock().later(1).say(**CLIMATE)
    (raised,) = power(board)
    back = cut + 190 * MINUTE
    assert ("raised", board.truth) == (raised[2], raised[4])
    alarm = board.standing()["", "power came back"]
    assert (back, board.truth) == (alarm.since - 1, alarm.raised_at)
    assert alarm.evidence.arithmetic.startswith("nothing was heard for 3 h 10 min")
    assert alarm.evidence.arithmetic.endswith("every probe has spoken since")
    board.through(180, **CLIMATE)
    told = {n.number: n for n in notices(board)}
    assert 1 == len(told)
    assert any(line.startswith("Fig now: ") for line in next(iter(told.values())).more)
    assert "Vermistat: see that long-mat is on again by " in next(iter(told.values())).title
    board.through(10 * 60, **CLIMATE)
    assert ["raised", "returned"] == [s[2] for s in power(board)]
    assert 1 == len({n.number for n in notices(board)})


def test_while_the_time_is_not_known_neither_is_how_long_it_was_off():
    board = lived()
    board.power_off(190, "epoch").say(**CLIMATE)
    board.later(15).say(**CLIMATE)
    assert "is not known yet" in board.standing()["", "power came back"].evidence.arithmetic
    board.set_clock().later(15).say(**CLIMATE)
    assert 1 == len(power(board))
    assert board.truth - 30 * MINUTE - 20 * SECOND == board.standing()["", "power came back"].since - 1


def test_a_restarted_service_says_nothing_of_power():
    board = lived()
    for _ in range(3):
        board.later(1)
        board.start()
        board.say(**CLIMATE)
    assert [] == power(board)


def test_the_first_start_of_all_says_nothing_of_power():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,)), synced=True)
    board.say(**CLIMATE)
    board.later(15).say(**CLIMATE)
    assert [] == power(board)


@pytest.mark.parametrize(("minutes", "said"), [(3, 0), (12, 1)])
def test_a_machine_that_was_told_to_stop_and_is_back_at_once_was_started_by_somebody(minutes, said):
    board = lived()
    board.keeper.ended()
    board.power_off(minutes).set_clock().say(**CLIMATE)
    board.later(15).say(**CLIMATE)
    assert said == len(power(board))


def test_that_it_was_told_to_stop_counts_for_that_stop_alone():
    board = lived()
    board.keeper.ended()
    board.later(1).start()
    board.say(**CLIMATE)
    board.power_off(3).set_clock().say(**CLIMATE)
    assert 1 == len(power(board))


def test_silence_that_the_power_explains_is_not_told_and_silence_after_it_is():
    board = lived()
    mine = {probe: value for probe, value in CLIMATE.items() if probe != "fig_east"}
    board.power_off(190).set_clock().say(**mine)
    board.later(15).say(**mine)
    text = board.standing()["", "power came back"].evidence.arithmetic
    assert "5 of 6 probes have spoken since" in text
    assert "fig-east" in text
    assert ("fig-east", "silent") not in board.standing()
    board.through(30, **mine)
    assert ("fig-east", "silent") in board.standing()
    assert ("fig-east", "silent", "raised") in [(who, what, event) for _, who, what, event in board.told()]
    silent = [s for s in board.steps() if s[:3] == ("fig-east", "silent", "raised")]
    assert 1 == len(silent)


def test_whoever_sleeps_reads_it_in_the_morning_whole():
    board = lived(people=(orchard.ANA,), truth=orchard.ms("19:00"))
    board.later(60).say(**CLIMATE)
    board.power_off(120).set_clock()
    while board.truth < orchard.ms("2026-11-26T07:00"):
        board.say(**CLIMATE)
        assert [] == notices(board)
        board.later(15)
    board.say(**CLIMATE)
    (notice,) = {n.number: n for n in notices(board)}.values()
    assert "Nothing was heard for 2 h" in notice.lines[1]


def test_a_second_cut_is_told_as_well():
    board = lived()
    board.power_off(60).set_clock().say(**CLIMATE)
    board.later(15).say(**CLIMATE)
    board.power_off(60).set_clock().say(**CLIMATE)
    board.truth += DAY
    board.ran += DAY
    board.say(**CLIMATE)
    assert ["raised", "returned"] == [s[2] for s in power(board)]
    board.power_off(90).set_clock().say(**CLIMATE)
    board.later(15).say(**CLIMATE)
    assert ["raised", "returned", "raised"] == [s[2] for s in power(board)]
    assert board.standing()["", "power came back"].evidence.arithmetic.startswith(
        "nothing was heard for 1 h 30 min"
    )
