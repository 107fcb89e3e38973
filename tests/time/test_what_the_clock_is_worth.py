"""Dead reckoning over whatever the machine's clocks do: believed, unsure, proven, and by how much it was off."""

from dataclasses import dataclass, field, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.reckoning import (
    FLOOR,
    LEAST,
    Belief,
    Seen,
    begin,
    look,
    reckoning_of,
    reckoning_text,
)

T = 1_795_600_000_000
YEARS = 365 * DAY


@dataclass
class Board:
    """A machine whose truth is known. `off` is how far the wall is from it; `stamps` what was stamped when."""

    truth: int = T
    off: int = 0
    ran: int = 30 * SECOND
    synced: bool = False
    hardware: bool = False
    boot: str = "one"
    last: int | None = T - HOUR
    stretch: object = None
    stamps: list = field(default_factory=list)
    mark: int = 0
    bys: list = field(default_factory=list)

    def seen(self):
        return Seen(self.truth + self.off, self.ran, self.synced, self.hardware)

    def start(self):
        """A process starts, with whatever stretch is kept."""
        self._take(begin(self.seen(), boot=self.boot, last=self.last, kept=self.stretch))
        return self

    def _take(self, found):
        if found.by:
            self.stamps[self.mark :] = [(at + found.by, true) for at, true in self.stamps[self.mark :]]
            self.bys.append(found.by)
        if found.settled:
            self.mark = len(self.stamps)
        self.stretch = reckoning_of(reckoning_text(found.after))

    def now(self):
        """As `KnownClock` tells it."""
        reckoned, wall = self.stretch.now(self.ran), self.truth + self.off
        unsure = self.stretch.belief is Belief.UNSURE
        return reckoned if unsure or abs(wall - reckoned) > LEAST else wall

    def pass_(self, ms):
        self.truth, self.ran = self.truth + ms, self.ran + ms
        return self

    def stamp(self):
        self.stamps.append((self.now(), self.truth))
        return self

    def look(self):
        self._take(look(self.stretch, self.seen()))
        return self

    def reboot(self, away, off, *, last=None):
        self.last = self.now() if last is None else last
        self.truth, self.off, self.ran, self.boot = self.truth + away, off, 20 * SECOND, self.boot + "'"
        return self.start()

    @property
    def belief(self):
        return self.stretch.belief


def test_a_right_clock_is_believed_without_a_proof_and_nothing_is_moved():
    board = Board().start()
    board.stamp().pass_(DAY).look().stamp()
    assert (Belief.BELIEVED, []) == (board.belief, board.bys)
    assert all(at == true for at, true in board.stamps)


def test_a_clock_behind_what_is_stored_is_unsure_and_the_time_is_reckoned_from_there():
    board = Board(off=-56 * YEARS, last=T - HOUR, ran=30 * SECOND).start()
    assert (Belief.UNSURE, T - HOUR + 30 * SECOND) == (board.belief, board.now())
    board.pass_(3 * HOUR).look()
    assert T - HOUR + 30 * SECOND == board.stretch.since
    assert T + 2 * HOUR + 30 * SECOND == board.now()


@pytest.mark.parametrize(("behind", "belief"), [(LEAST, Belief.BELIEVED), (LEAST + 1, Belief.UNSURE)])
def test_five_minutes_behind_is_still_believed(behind, belief):
    board = Board(ran=0, last=T, off=-behind).start()
    assert belief is board.belief


def test_the_first_start_of_all_is_unsure_only_before_the_program_existed():
    assert Belief.BELIEVED is Board(last=None).start().belief
    board = Board(last=None, off=-56 * YEARS).start()
    assert (Belief.UNSURE, FLOOR) == (board.belief, board.now())


@pytest.mark.parametrize("synced", [True, False])
def test_when_the_truth_comes_everything_of_the_stretch_is_moved_once_and_lies_right(synced):
    board = Board(off=-56 * YEARS).start()
    for _ in range(3):
        board.stamp().pass_(10 * MINUTE).look()
    assert [] == board.bys
    board.off, board.synced = 0, synced
    board.look().stamp()
    assert [HOUR - 30 * SECOND] == board.bys
    assert all(at == true for at, true in board.stamps)
    assert (Belief.PROVEN if synced else Belief.BELIEVED) is board.belief
    board.pass_(DAY).look()
    assert 1 == len(board.bys)


def test_a_clock_that_began_where_it_was_shut_down_is_believed_and_moved_when_it_jumps():
    """A restored time: plausible, three hours behind, and nothing of it can be seen at the start."""
    board = Board(off=-3 * HOUR, last=T - 3 * HOUR - MINUTE).start()
    assert Belief.BELIEVED is board.belief
    board.stamp().pass_(HOUR).look().stamp()
    board.off = 0
    assert T - 2 * HOUR == board.now(), "until a round has looked, every stamp is of one stretch"
    board.look()
    assert [3 * HOUR] == board.bys
    assert all(at == true for at, true in board.stamps)


@pytest.mark.parametrize("nights", [1, 5])
def test_a_virtual_machine_that_is_paused_every_night_moves_nothing(nights):
    """While it is paused neither of its clocks runs; afterwards its host sets the wall, and no kernel flag says so."""
    board = Board(hardware=True).start()
    for _ in range(nights):
        board.stamp().pass_(16 * HOUR).look().stamp()
        board.truth += 8 * HOUR
        board.off = -8 * HOUR
        board.stamps.append((board.now(), board.truth - 8 * HOUR))
        board.off = 0
        board.look()
    assert (Belief.BELIEVED, []) == (board.belief, board.bys)
    assert all(at == true for at, true in board.stamps)
    board.synced = True
    board.look()
    assert [] == board.bys


def test_a_hardware_clock_that_was_wrong_from_the_start_is_put_right_by_a_proof():
    board = Board(hardware=True, off=-HOUR, last=T - 2 * HOUR).start().stamp().pass_(HOUR)
    board.off, board.synced = 0, True
    board.look()
    assert [HOUR] == board.bys
    assert all(at == true for at, true in board.stamps)


def test_a_hardware_clock_without_a_battery_is_no_better_than_none():
    assert Belief.UNSURE is Board(hardware=True, off=-56 * YEARS).start().belief


def test_a_proof_that_the_wall_is_right_moves_nothing_however_little_it_is_off():
    board = Board(off=-4 * MINUTE).start()
    board.stamp().pass_(HOUR)
    board.off, board.synced = 0, True
    board.look()
    assert (Belief.PROVEN, []) == (board.belief, board.bys)


def test_a_step_back_without_a_proof_is_not_followed():
    board = Board().start().stamp().pass_(HOUR)
    board.off = -DAY
    assert T + HOUR == board.now()
    board.look()
    assert (Belief.UNSURE, T + HOUR, T + HOUR) == (board.belief, board.stretch.since, board.now())
    board.stamp().pass_(HOUR)
    board.off = 0
    board.look()
    assert (Belief.BELIEVED, []) == (board.belief, board.bys)


def test_a_proven_clock_is_not_led_away_by_a_hand_and_comes_back_proven():
    board = Board(synced=True).start().stamp().pass_(HOUR)
    board.synced, board.off = False, 73 * YEARS
    board.look().stamp().pass_(HOUR)
    assert (Belief.UNSURE, T + 2 * HOUR) == (board.belief, board.now())
    board.off = 0
    board.look()
    assert (Belief.PROVEN, []) == (board.belief, board.bys)
    assert all(at == true for at, true in board.stamps)


def test_a_false_future_set_by_hand_is_taken_back_when_the_wall_comes_back():
    board = Board().start().stamp().pass_(HOUR)
    board.off = 73 * YEARS
    board.look().stamp().pass_(HOUR)
    assert Belief.BELIEVED is board.belief
    board.off = 2 * SECOND
    board.look()
    assert (Belief.BELIEVED, [73 * YEARS, -73 * YEARS + 2 * SECOND]) == (board.belief, board.bys)
    assert {2 * SECOND} == {at - true for at, true in board.stamps}


def test_a_false_future_that_was_stored_holds_the_clock_until_a_proof_and_no_longer():
    board = Board().start().pass_(HOUR)
    board.off = 73 * YEARS
    board.look().stamp()
    board.reboot(MINUTE, off=0)
    assert Belief.UNSURE is board.belief
    board.mark = len(board.stamps)
    board.stamp().pass_(HOUR).look().stamp()
    assert Belief.UNSURE is board.belief
    board.synced = True
    found = look(board.stretch, board.seen())
    assert found.overtaken
    board.look().stamp()
    assert Belief.PROVEN is board.belief
    assert all(at == true for at, true in board.stamps[board.mark :])
    board.reboot(HOUR, off=0)
    assert Belief.PROVEN is board.belief
    board.synced = False
    board.reboot(HOUR, off=0)
    assert Belief.BELIEVED is board.belief


def test_a_proof_at_the_start_beats_a_stored_future():
    found = begin(Seen(T, 30 * SECOND, synced=True), boot="two", last=T + 73 * YEARS, kept=None)
    assert (Belief.PROVEN, T, True) == (found.after.belief, found.after.at, found.overtaken)


def test_two_proofs_that_contradict_each_other_move_nothing_until_the_first_is_right_again():
    board = Board(synced=True).start().stamp().pass_(DAY)
    board.off = 73 * YEARS
    board.look().stamp().pass_(MINUTE).look().stamp()
    assert [] == board.bys
    board.off = 0
    board.look()
    assert [-73 * YEARS] == board.bys
    assert all(at == true for at, true in board.stamps)


def test_a_restarted_service_goes_on_in_the_same_stretch():
    board = Board(off=-56 * YEARS).start().stamp().pass_(HOUR)
    board.start().stamp().pass_(HOUR)
    board.off = 0
    board.start()
    assert [HOUR - 30 * SECOND] == board.bys
    assert all(at == true for at, true in board.stamps)


def test_a_step_while_the_service_was_stopped_is_a_step():
    board = Board().start().stamp().pass_(HOUR)
    board.off = -DAY
    board.start()
    assert (Belief.UNSURE, T + HOUR) == (board.belief, board.now())


NUDGES = st.lists(
    st.tuples(
        st.integers(0, 3 * DAY),
        st.one_of(st.integers(-4000, 4000), st.sampled_from([-1000, 1000, -LEAST + 1, LEAST - 1])),
        st.booleans(),
        st.booleans(),
    ),
    max_size=30,
)


@given(NUDGES, st.booleans())
def test_a_right_clock_never_becomes_unsure(nudges, synced):
    """Slews, leap seconds, small steps either way, networks that come and go, suspends, restarts of the service."""
    board = Board(synced=synced).start()
    for wait, off, synced_now, restart in nudges:
        board.pass_(wait).stamp()
        board.off = off if abs(off - board.off) <= LEAST else board.off
        board.synced = synced_now
        (board.start if restart else board.look)()
        assert Belief.UNSURE is not board.belief
        assert board.truth + board.off == board.now()
    assert [] == board.bys


MOVES = st.lists(
    st.one_of(
        st.tuples(st.just("wait"), st.integers(0, 2 * DAY)),
        st.tuples(st.just("step"), st.integers(-30 * DAY, 30 * DAY)),
        st.tuples(st.just("restart"), st.just(0)),
    ),
    max_size=20,
)


@given(st.integers(-60 * YEARS, 2 * HOUR), MOVES)
def test_whatever_an_unproven_clock_did_everything_lies_right_when_the_truth_is_proven(off, moves):
    board = Board(off=off).start()
    for move, how in moves:
        if move == "wait":
            board.pass_(how)
        elif move == "step":
            board.off += how
            board.look()
        else:
            board.start()
        board.look()
        before = board.now()
        board.stamp()
        board.pass_(1000)
        assert board.now() == before + 1000
    board.off, board.synced = 0, True
    board.look()
    assert (Belief.PROVEN, board.truth) == (board.belief, board.now())
    assert all(abs(at - true) <= LEAST * (1 + len(moves)) for at, true in board.stamps)
    board.pass_(DAY).look()
    assert (Belief.PROVEN, board.truth) == (board.belief, board.now())


@given(MOVES)
def test_after_a_proof_a_hand_moves_nothing(moves):
    board = Board(synced=True).start()
    board.synced = False
    for move, how in moves:
        if move == "wait":
            board.pass_(how)
        elif move == "step":
            board.off = how if abs(how) > LEAST else 0
            board.look()
        else:
            board.start()
        board.stamp()
    assert [] == board.bys
    assert all(at == true for at, true in board.stamps)


@given(st.integers(0, 2**45), st.one_of(st.none(), st.integers(0, 2**45)), st.booleans())
def test_a_stretch_is_kept_as_text_and_read_back(at, since, exact):
    board = Board().start().pass_(HOUR)
    board.off = DAY
    board.look()
    assert board.stretch.left is not None
    stretch = replace(board.stretch, at=at, since=since, exact=exact)
    assert stretch == reckoning_of(reckoning_text(stretch))
