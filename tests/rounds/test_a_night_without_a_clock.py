"""A board without a battery clock lives through a night: afterwards everything is as if its clock had been right."""

from dataclasses import replace

import pytest

from monitor.errors import StoreFull
from monitor.notify.post import HOURS_ARE_A_GUESS
from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.shifting import STANDING
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.board import Board, awake
from parts.house import warm

YEARS = 365 * DAY
FIGS = ("fig-west", "fig-east", "fig-mat")


def night(wakes, *, store=None, restarts=()):
    """Evening, three hours without power, a cold night in which the bed comes to harm, morning, the true time, day."""
    rules = orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),))
    board = Board(rules=rules, truth=orchard.ms("16:00"), **({"store": store} if store else {}))
    board.say(**warm())
    board.through(120, **warm(celsius=20.0))
    board.power_off(180, wakes)
    board.say(**warm(celsius=24.0))
    for quarter in range(40):
        celsius = 24.0 if quarter < 8 else 20.0 if quarter < 20 else 11.0 if quarter < 30 else 23.0
        board.through(15, **warm(celsius=celsius))
        if quarter in restarts:
            board.start()
    board.set_clock()
    board.through(120, **warm(celsius=23.0))
    board.store.ask(board.clock.now(), "ana", "seen", 1)
    return board.through(60, **warm(celsius=20.0))


CONTROL = night("right")


def test_the_control_has_something_to_tell():
    assert 0 == CONTROL.moved
    assert {"raised", "returned", "rose"} <= {event for _, _, event, *_ in CONTROL.steps()}
    assert ("fig", "cold", "harm") in {(who, what, level) for who, what, _, level, *_ in CONTROL.steps()}


@pytest.mark.parametrize("wakes", ["epoch", "saved"])
@pytest.mark.parametrize("restarts", [(), (3, 12, 25, 26, 39)])
def test_every_step_lies_where_it_would_have_been_with_a_right_clock(wakes, restarts):
    board = night(wakes, restarts=restarts)
    assert 1 == board.moved
    assert CONTROL.steps() == board.steps()
    assert CONTROL.episodes() == board.episodes()
    assert CONTROL.told() == board.told()
    assert CONTROL.store.after(0) == board.store.after(0)
    assert CONTROL.store.load().standing.keys() <= board.store.load().standing.keys()


def test_the_same_in_a_file(tmp_path):
    store = SqliteStore(tmp_path / "kept.db")
    try:
        board = night("epoch", store=store)
        assert CONTROL.steps() == board.steps()
        assert CONTROL.told() == board.told()
        assert CONTROL.store.after(0) == board.store.after(0)
        assert [r.at for r in CONTROL.store.rounds(10_000)] == [r.at for r in board.store.rounds(10_000)]
    finally:
        store.close()


def test_while_the_clock_is_unsure_that_is_an_alarm_of_its_own_and_ends_with_it():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))
    board.say(**warm())
    board.power_off(60, "epoch").say(**warm())
    board.later(4).say(**warm())
    assert ("", "clock unsure") not in board.standing(), "on a network the time comes within minutes"
    board.later(1).say(**warm())
    assert ("", "clock unsure") in board.standing()
    board.through(60, **warm())
    board.set_clock().later(1).say(**warm())
    assert ("", "clock unsure") not in board.standing()
    steps = [(s[2], s[4]) for s in board.steps(without=()) if s[1] == "clock unsure"]
    booted = orchard.ms("11:00") + 20 * SECOND
    assert [("raised", booted + 5 * MINUTE), ("returned", booted + 66 * MINUTE)] == steps


def test_harm_of_the_first_minutes_is_told_when_the_clock_is_known_to_be_unsure():
    """By its own reckoning it is night, and there is nothing the keeper could do: it waits for five minutes, not for
    a morning that may long have been.
    """
    fig = replace(orchard.FIG, can=frozenset())
    rules = orchard.rules(bins=(fig,), mats=(), people=(orchard.ANA,))
    board = Board(rules=rules, truth=orchard.ms("21:30"))
    board.say(**warm(celsius=20.0))
    board.power_off(11 * 60, "epoch").say(**warm(celsius=12.0))
    assert ("fig", "cold") in board.standing()
    assert [] == [told for told in board.told() if told[1] == "fig"]
    board.later(5).say(**warm(celsius=12.0))
    assert [("ana", "fig", "cold", "raised")] == [told for told in board.told() if told[1] == "fig"]


def test_harm_is_told_at_once_whatever_hour_it_seems_to_be_and_comfort_waits():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(orchard.ANA,)), truth=orchard.ms("21:30"))
    board.say(**warm())
    board.power_off(11 * 60, "epoch").say(**warm())
    board.through(75, **warm(celsius=20.0))
    assert [] == board.told(), "by the clock on the wall it is ten in the morning, but nobody knows that yet"
    board.through(15, **warm(celsius=12.0))
    assert ("ana", "fig", "cold", "rose") in board.told()


def test_a_delay_that_began_before_the_cut_is_found_anew_when_the_time_is_known():
    """Nobody knows how long it was dark. Meanwhile the delay goes on, so that harm is told sooner rather than later;
    when it is known that nothing was heard for hours, it counts from the first reading after them.
    """
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()))
    board.say(**warm())
    board.later(15).say(**warm(celsius=14.5))
    board.through(60, **warm(celsius=14.5))
    board.power_off(180, "epoch").say(**warm(celsius=14.5))
    back = board.truth
    board.through(60, **warm(celsius=14.5))
    board.set_clock()
    board.through(4 * 60 - 75, **warm(celsius=14.5))
    harm = [s for s in board.steps() if s[:2] == ("fig", "cold") and s[3] == "harm"]
    assert [] == harm
    board.through(15, **warm(celsius=14.5))
    harm = [s[4] for s in board.steps() if s[:2] == ("fig", "cold") and s[3] == "harm"]
    assert [back + 4 * HOUR] == harm


def test_probes_with_a_time_of_their_own_are_watched_while_ours_is_unsure():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))

    def own():
        return dict.fromkeys(FIGS, board.truth - 2 * SECOND)

    board.say(own(), **warm())
    board.power_off(180, "epoch")
    board.say(own(), **warm())
    for celsius in (18.0, *[11.0] * 8):
        board.later(15).say(own(), **warm(celsius=celsius))
    assert {"early"} == {r.quality.name.lower() for r in board.store.after(3)}
    assert ("ana", "fig", "cold", "raised") in board.told()
    troubles = {(who, what) for who, what in board.standing() if who in (*FIGS, "fig")}
    assert {("fig", "cold")} == troubles
    board.set_clock().later(15).say(own(), **warm(celsius=11.0))
    assert {"good"} == {r.quality.name.lower() for r in board.store.after(3)}
    assert all(r.at == r.received_at - 2 * SECOND for r in board.store.after(3))
    raised = [s for s in board.steps() if s[:3] == ("fig", "cold", "raised")]
    assert [orchard.ms("13:30") + 20 * SECOND] == [s[4] for s in raised]


def test_what_was_ahead_of_a_restored_time_is_judged_when_the_truth_comes():
    """A restored time cannot be seen to be wrong, so probes seem ahead; afterwards their readings arrive anew."""
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))

    def own():
        return dict.fromkeys(FIGS, board.truth)

    board.say(own(), **warm())
    board.power_off(180, "saved")
    board.say(own(), **warm())
    board.later(15).say(own(), **warm(celsius=11.0))
    assert {"ahead"} == {r.quality.name.lower() for r in board.store.after(3)}
    assert [] == board.told()
    board.set_clock().later(15).say(own(), **warm(celsius=11.0))
    assert {"good"} == {r.quality.name.lower() for r in board.store.after(3)}
    raised = [s for s in board.steps() if s[:3] == ("fig", "cold", "raised")]
    assert [orchard.ms("13:15") + 20 * SECOND] == [s[4] for s in raised]
    assert [("ana", "fig", "cold", "raised")] == [t for t in board.told() if t[1:3] == ("fig", "cold")]


def test_a_stored_future_of_another_boot_stands_in_nobodys_way():
    """The wall said 2099 for a minute, the power went, and the clock on the wall is right again."""
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))
    board.say(**warm())
    board.later(15)
    board.off = 73 * YEARS
    board.say(**warm())
    assert board.kept("fig-west")[-1][0] > orchard.ms("10:00") + 72 * YEARS
    board.power_off(10, "right").say(**warm())
    board.later(5).say(**warm())
    assert ("", "clock unsure") in board.standing()
    board.set_clock().later(1).say(**warm())
    assert ("", "clock unsure") not in board.standing()
    assert board.truth == board.clock.now() == board.store.load().last_round.at
    board.later(15).say(**warm(celsius=18.0))
    board.later(15).say(**warm(celsius=11.0))
    assert ("ana", "fig", "cold", "raised") in board.told()
    assert all(at <= board.truth for at, _ in board.kept("fig-west"))
    board.power_off(10, "right").say(**warm())
    board.later(5).say(**warm())
    assert ("", "clock unsure") not in board.standing()
    assert {u.probe for u in board.store.undated()} <= set(FIGS)


def test_a_false_future_that_is_corrected_is_taken_back_whole():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))
    board.say(**warm())
    before = board.kept("fig-west")
    board.off = 73 * YEARS
    board.later(15).say(**warm())
    board.off = 0
    board.later(15).say(**warm())
    assert [*before, (orchard.ms("10:15"), 24.0), (orchard.ms("10:30"), 24.0)] == board.kept("fig-west")
    assert 2 == board.moved
    board.later(50).say()
    assert {("fig-west", "silent"), ("fig-east", "silent")} <= board.standing().keys()


def test_a_night_whose_board_dies_before_the_time_is_known_is_told_of_and_not_guessed(caplog):
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()))
    board.say(**warm())
    board.power_off(60, "epoch").say(**warm())
    board.through(60, **warm())
    lost = board.kept("fig-west")
    assert not any("too early" in r.message for r in caplog.records)
    board.power_off(60, "right").set_clock()
    assert any("too early" in r.message for r in caplog.records)
    board.say(**warm())
    assert lost == board.kept("fig-west")[:-1]
    assert 0 == board.moved
    assert ("clock", "lost") in board.store.load().standing


@pytest.mark.parametrize("step", [-4 * MINUTE, 4 * MINUTE, -SECOND, SECOND])
def test_a_right_clock_moves_nothing_however_it_is_slewed(step):
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()))
    board.say(**warm())
    for _ in range(4):
        board.later(15)
        board.off += step
        board.say(**warm())
        board.start()
    assert 0 == board.moved
    assert [] == [s for s in board.steps(without=()) if s[0] in (*FIGS, "fig", "")]


def test_a_round_that_cannot_read_what_was_moved_judges_nothing_and_the_next_one_does(monkeypatch):
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()))
    board.say(**warm())
    board.power_off(180, "epoch").say(**warm())
    board.set_clock().later(1)
    whole, moved = board.store.load, board.keeper.set_right
    broken = [StoreFull("the disk is full")]

    def set_right():
        done = moved()
        monkeypatch.setattr(board.store, "load", lambda: (_ for _ in ()).throw(broken[0]) if broken else whole())
        return done

    monkeypatch.setattr(board.rounds, "_set_right", set_right)
    before = whole().last_round.number
    with pytest.raises(StoreFull):
        board.say(**warm())
    assert (1, before) == (board.moved, whole().last_round.number)
    broken.clear()
    assert board.later(1).say(**warm()).stored
    assert board.truth == board.rounds.stands.memory["fig-west"].last_at
    assert 1 == board.moved


def test_a_keepers_word_is_a_proof_where_no_network_comes():
    """The way out of a false future that was stored, on a board that never meets a time server."""
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))
    board.say(**warm())
    board.later(15)
    board.off = 73 * YEARS
    board.say(**warm())
    board.power_off(10, "right").say(**warm())
    stamped = board.kept("fig-west")[-1]
    assert stamped[0] > board.truth + 72 * YEARS
    board.store.ask(board.clock.now(), "ana", "clock right", 0)
    board.later(5).say(**warm())
    assert (2, []) == (board.moved, board.store.asked())
    assert board.truth == board.clock.now()
    assert [board.truth - 5 * MINUTE, board.truth] == [at for at, _ in board.kept("fig-west")][-2:]
    board.later(15).say(**warm())
    assert ("", "clock unsure") not in board.standing()
    assert 2 == board.moved, "once into the false future, once out of it"


def test_a_notice_that_is_written_without_a_clock_says_that_its_hours_are_a_guess():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)))
    board.say(**warm(celsius=20.0))
    board.power_off(180, "epoch").say(**warm(celsius=20.0))
    board.later(15).say(**warm(celsius=12.0))
    unsure = [p.notice for p in board.store.notices() if "Fig" in p.notice.title]
    assert {HOURS_ARE_A_GUESS} == {notice.lines[-1] for notice in unsure}
    board.set_clock().through(75, **warm(celsius=24.0))
    known = [p.notice for p in board.store.notices() if p.notice.number > max(n.number for n in unsure) + 1]
    assert known
    assert HOURS_ARE_A_GUESS not in [line for notice in known for line in notice.lines]


def test_whatever_stands_between_rounds_and_holds_a_time_is_moved():
    """`bin` holds prints of limits, `clock` is the keeping of time itself; a new kind has to be looked at."""
    kinds = {kind for kind, _ in CONTROL.store.load().standing}
    assert {"condition", "probe", "bin", "clock"} <= kinds
    assert kinds <= STANDING.keys() | {"bin", "clock"}


def test_two_proofs_that_contradict_each_other_stop_nothing():
    """A time server that is wrong by a week, and then right: what it stamped in the future is nobody's newest word."""
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=(awake(orchard.ANA),)), synced=True)
    board.start()
    board.say(**warm())
    board.later(15)
    board.off = 7 * DAY
    board.say(**warm())
    board.later(15).say(**warm())
    assert board.kept("fig-west")[-1][0] > board.truth
    board.power_off(10, "right")
    board.set_clock().say(**warm())
    assert all(at <= board.truth for at, _ in board.kept("fig-west"))
    assert board.truth == board.rounds.stands.memory["fig-west"].last_at
    assert {"fig-west", "fig-mat", "fig-east"} == {u.probe for u in board.store.undated()}
    board.later(15).say(**warm(celsius=18.0))
    board.later(15).say(**warm(celsius=11.0))
    assert ("ana", "fig", "cold", "raised") in board.told()


def test_a_boot_that_heard_nothing_has_lost_nothing():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()))
    board.say(**warm())
    board.power_off(60, "epoch")
    board.power_off(60, "right")
    assert ("clock", "lost") not in board.store.load().standing


def test_a_proven_time_that_somebody_stepped_away_from_is_not_lost_with_the_power():
    board = Board(rules=orchard.rules(bins=(orchard.FIG,), people=()), synced=True)
    board.start()
    board.say(**warm())
    board.synced, board.off = False, -2 * DAY
    board.later(15).say(**warm())
    assert [orchard.ms("10:00"), orchard.ms("10:15")] == [at for at, _ in board.kept("fig-west")]
    board.power_off(60, "right")
    assert ("clock", "lost") not in board.store.load().standing
