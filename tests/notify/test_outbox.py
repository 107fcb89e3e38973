"""What waits is sent, marked afterwards, tried again, given up loudly. Sending is scripted, the store real."""

import logging
import threading

import pytest

from monitor.clock import Patience
from monitor.errors import BadValue, SendError, StoreBusy, StoreFull
from monitor.notify.backoff import FEWEST_TRIES, pause_after, worth_trying_for
from monitor.notify.notices import Post
from monitor.notify.outbox import STRANDED_AT_MOST, STRANDED_FOR, UNRECORDED, Outbox
from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.store.promises import Shift
from monitor.store.sqlite import SqliteStore
from parts.posting import NOW, SOON, Hand, leave, letter, states, until


class Post_office:  # noqa: N801 (it stands for a place)
    """Scripted channels: `answers[channel]` is called with the post; what it raises is a failed try."""

    def __init__(self):
        self.answers, self.tried = {}, []

    def __call__(self, channel, post):
        self.tried.append((post.notice.number, channel))
        self.answers.get(channel, lambda _post: None)(post)

    def tries(self, channel):
        return [n for n, c in self.tried if c == channel]


class Hanging:
    """Hangs until it is released; then delivers, or fails."""

    def __init__(self, fails=False):
        self.hung, self.release, self._fails = threading.Semaphore(0), threading.Event(), fails

    def __call__(self, _post):
        self.hung.release()
        assert self.release.wait(SOON * 3)
        if self._fails:
            raise SendError("too late")


def down(reason="connection refused"):
    def answer(_post):
        raise SendError(reason)

    return answer


class House:
    """A store, a sender, and a clock and a patience that are moved by hand."""

    def __init__(self, path):
        self.store, self.office, self.patience, self.clock = SqliteStore(path), Post_office(), Hand(), [NOW]
        self.beats, self.outboxes = [], []

    def outbox(self, store=None, **kwargs):
        outbox = Outbox(
            store=store or self.store,
            send=self.office,
            now=lambda: self.clock[0],
            patience=kwargs.pop("patience", self.patience),
            beat=lambda: self.beats.append(1),
            **kwargs,
        )
        self.outboxes.append(outbox)
        outbox.start()
        return outbox

    def pass_by(self, seconds):
        self.clock[0] += int(seconds * 1000)
        self.patience.pass_by(seconds)

    def turns(self, count=3):
        """Let the sender look a few more times."""
        wanted = len(self.beats) + count
        until(lambda: len(self.beats) >= wanted, "a turn of the sender")

    def noted(self, tries, number=1):
        """Wait until so many failed tries of a notice are in the store."""
        until(lambda: {n.tries for n in self.store.notices() if n.notice.number == number} == {tries}, "a note")

    def close(self):
        for outbox in self.outboxes:
            outbox.stop(0.2)
        self.store.close()


@pytest.fixture
def house(tmp_path):
    house = House(tmp_path / "kept.db")
    yield house
    house.close()


def test_what_waits_is_sent_on_every_channel_and_marked(house):
    house.outbox()
    leave(house.store, letter(1, "phone", "mail"), letter(2, "mail"))
    until(lambda: 0 == house.store.waiting(), "everything sent")
    assert {(1, "phone"): "sent", (1, "mail"): "sent", (2, "mail"): "sent"} == states(house.store)
    assert sorted([(1, "phone"), (1, "mail"), (2, "mail")]) == sorted(house.office.tried)


def test_a_nudge_sends_at_once(house):
    outbox = house.outbox(patience=Patience())
    until(lambda: house.beats, "the first look")
    leave(house.store, letter(1, "phone"))
    outbox.nudge()
    until(lambda: 0 == house.store.waiting(), "the post sent")


def test_a_post_is_marked_only_after_it_was_sent(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox()
    leave(house.store, letter(1, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    assert {(1, "phone"): "waiting"} == states(house.store)
    hanging.release.set()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the mark")


def test_a_failed_try_is_noted_and_tried_again_after_its_pause_and_not_before(house):
    house.office.answers["phone"] = down("connection refused")
    house.outbox(pause=lambda tries: 60.0 * 2 ** (tries - 1))
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    (post,) = house.store.notices()
    assert (NOW + MINUTE, "connection refused") == (post.next_try, post.last_error)
    for seconds, tries in ((59, 1), (1, 2), (119, 2), (1, 3)):
        house.pass_by(seconds)
        house.noted(tries)
        house.turns()
        assert tries == len(house.office.tried)


def test_pauses_double_from_a_minute_to_half_an_hour_and_do_not_march_in_step():
    for tries, minutes in ((1, 1), (2, 2), (3, 4), (4, 8), (5, 16), (6, 30), (7, 30), (500, 30)):
        pauses = {pause_after(tries) for _ in range(200)}
        assert minutes * 60 * 0.8 <= min(pauses) < max(pauses) <= minutes * 60 * 1.2
        assert len(pauses) > 100


def test_under_a_scaled_clock_the_next_try_is_told_in_the_beds_time(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 60.0, speed=840.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    assert NOW + 840 * MINUTE == house.store.notices()[0].next_try


def test_the_newest_goes_before_what_failed_and_what_failed_is_not_forgotten(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    house.office.answers.clear()
    leave(house.store, letter(2, "phone"))
    until(lambda: 0 == house.store.waiting(), "both sent")
    assert [1, 2, 1] == house.office.tries("phone")


def test_what_was_never_tried_goes_before_what_failed_when_both_are_due(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    hanging = house.office.answers["phone"] = Hanging()
    leave(house.store, letter(2, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    leave(house.store, letter(3, "phone"))
    house.patience.pass_by(1)
    hanging.release.set()
    until(lambda: 0 == house.store.waiting(), "all sent")
    assert [1, 2, 3, 1] == house.office.tries("phone")


def test_one_post_that_is_always_refused_holds_up_no_other(house):
    def picky(post):
        if post.notice.number == 1:
            raise SendError("message refused")

    house.office.answers["phone"] = picky
    house.outbox(pause=lambda _: 1e9)
    leave(house.store, letter(1, "phone"), letter(2, "phone"), letter(3, "phone"))
    until(lambda: 1 == house.store.waiting(), "the others sent")
    assert {(1, "phone"): "waiting", (2, "phone"): "sent", (3, "phone"): "sent"} == states(house.store)


def test_a_channel_that_hangs_delays_no_other(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox()
    leave(house.store, *(letter(n, "phone") for n in range(1, 301)), letter(301, "mail", "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    until(lambda: house.office.tries("mail") == [301], "the mail sent")
    until(lambda: states(house.store)[301, "mail"] == "sent", "the mail marked")
    assert [1] == house.office.tries("phone")
    hanging.release.set()
    until(lambda: 0 == house.store.waiting(), "all the rest sent")


def test_a_send_that_hangs_past_its_bound_counts_as_failed_and_is_abandoned(house):
    hanging = house.office.answers["phone"] = Hanging()
    outbox = house.outbox(bound=45, pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"), letter(2, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.pass_by(44)
    house.turns()
    assert {} == outbox.failing()
    house.pass_by(1)
    assert hanging.hung.acquire(timeout=SOON), "the next post is not held up for ever"
    assert "no end after 45 s" == house.store.notices()[0].last_error
    assert ["phone"] == list(outbox.failing())
    hanging.release.set()


def test_a_few_at_most_hang_at_once_and_then_the_channel_is_left_alone(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox(bound=45, stranded=3, pause=lambda _: 60.0)
    leave(house.store, *(letter(n, "phone") for n in range(1, 7)))
    for _ in range(3):
        assert hanging.hung.acquire(timeout=SOON)
        house.pass_by(45)
    until(lambda: all(p.tries for p in house.store.notices()), "every post noted")
    house.turns()
    assert 3 == len(house.office.tried)
    assert {"3 earlier sends still hang"} == {p.last_error for p in house.store.notices()[3:]}
    assert 6 == house.store.waiting()
    hanging.release.set()
    house.pass_by(60)
    until(lambda: 0 == house.store.waiting(), "all sent once it is free again")


def test_an_hour_after_a_few_hang_the_channel_is_tried_again_and_never_so_often_that_threads_run_out(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox(bound=45, stranded=1, pause=lambda _: 60.0, worth=lambda _: 100 * HOUR)
    leave(house.store, letter(1, "phone"))
    for sends in range(1, STRANDED_AT_MOST + 1):
        assert hanging.hung.acquire(timeout=SOON)
        house.pass_by(45)
        house.pass_by(STRANDED_FOR - 1)
        house.turns()
        assert sends == len(house.office.tried)
        house.pass_by(61)
    house.pass_by(STRANDED_FOR)
    house.turns(10)
    assert STRANDED_AT_MOST == len(house.office.tried)
    hanging.release.set()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the late mark")


def test_what_was_abandoned_and_gets_through_after_all_is_marked_and_not_sent_again(house):
    hanging = house.office.answers["phone"] = Hanging()
    outbox = house.outbox(bound=45, pause=lambda _: 600.0)
    leave(house.store, letter(1, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.pass_by(45)
    until(outbox.failing, "it counts as failed")
    hanging.release.set()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the late mark")
    assert {} == outbox.failing()
    house.pass_by(3600)
    house.turns()
    assert 1 == len(house.office.tried)


def test_what_was_abandoned_and_fails_late_is_not_counted_twice(house):
    hanging = house.office.answers["phone"] = Hanging(fails=True)
    house.outbox(bound=45, pause=lambda _: 600.0)
    leave(house.store, letter(1, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.pass_by(45)
    house.noted(1)
    hanging.release.set()
    house.turns(10)
    assert (1, "no end after 45 s") == (house.store.notices()[0].tries, house.store.notices()[0].last_error)


def test_what_was_given_up_and_gets_through_after_all_is_marked_sent(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox(bound=45, stranded=1, pause=lambda _: 60.0, worth=lambda _: 0)
    leave(house.store, letter(1, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.pass_by(45)
    for tries in range(1, FEWEST_TRIES):
        house.noted(tries)
        house.pass_by(60)
    until(lambda: {(1, "phone"): "given up"} == states(house.store), "the giving up")
    hanging.release.set()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the late mark")
    assert [1] == house.office.tries("phone")


def test_a_day_and_many_tries_later_it_is_given_up_and_that_is_said_loudly(house, caplog):
    house.office.answers["phone"] = down("no route")
    outbox = house.outbox(pause=lambda _: 1800.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    for tries in range(2, 50):
        assert {(1, "phone"): "waiting"} == states(house.store)
        assert not [r for r in caplog.records if r.levelno >= logging.ERROR]
        house.pass_by(1800)
        house.noted(tries)
    until(lambda: {(1, "phone"): "given up"} == states(house.store), "the giving up")
    assert 24 * HOUR == house.clock[0] - NOW
    (said,) = [r.getMessage() for r in caplog.records if r.levelno >= logging.ERROR]
    assert "notice 1 to keeper on phone given up after 49 tries in 24.0 h: no route" == said
    assert {"phone": NOW} == dict(outbox.failing())
    house.pass_by(7200)
    house.turns()
    assert 49 == len(house.office.tried)


def test_a_clock_that_is_put_right_makes_no_notice_old(house):
    """A board without a clock and without a network: with the network the true time comes, days later than it thought,
    and the notice that has waited for the network must go out, however often it was tried.
    """
    house.office.answers["phone"] = down("no route")
    above = house.store.mark()
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    for tries in range(2, FEWEST_TRIES + 5):
        house.pass_by(60)
        house.noted(tries)
    away = 9 * DAY
    now = house.clock[0] + away
    house.store.shift(Shift(away, NOW, house.clock[0], now, above, lambda r: r.quality))
    house.clock[0] = now
    house.pass_by(60)
    house.noted(FEWEST_TRIES + 5)
    assert {(1, "phone"): "waiting"} == states(house.store)
    del house.office.answers["phone"]
    house.pass_by(60)
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the sending")


def test_what_was_worth_waking_somebody_is_worth_three_days():
    assert DAY == worth_trying_for(Post(letter(1, "phone"), "phone"))
    assert 3 * DAY == worth_trying_for(Post(letter(1, "phone", woke=True), "phone"))


def test_a_clock_that_jumps_ten_years_gives_nothing_up(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    house.clock[0] += 3650 * DAY
    for tries in range(2, FEWEST_TRIES):
        house.patience.pass_by(60)
        house.noted(tries)
        assert {(1, "phone"): "waiting"} == states(house.store)
    house.office.answers.clear()
    house.patience.pass_by(60)
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "it sent")


def test_a_clock_that_jumps_back_holds_nothing_up(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    house.clock[0] -= 3650 * DAY
    house.office.answers.clear()
    house.patience.pass_by(61)
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "it sent")


def test_what_can_never_be_sent_is_given_up_at_once(house, caplog):
    def gone(_post):
        raise BadValue("the channel is no longer in the settings")

    house.office.answers["phone"] = gone
    house.outbox()
    leave(house.store, letter(1, "phone"))
    until(lambda: {(1, "phone"): "given up"} == states(house.store), "the giving up")
    assert "no longer in the settings" in caplog.text


def test_failing_says_since_when_and_ends_with_the_first_success(house):
    house.office.answers["phone"] = down()
    outbox = house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone", "mail"))
    until(lambda: {"phone": NOW} == dict(outbox.failing()), "the failing")
    house.pass_by(60)
    until(lambda: house.store.notices()[0].tries == 2, "the second try")
    assert {"phone": NOW} == dict(outbox.failing())
    house.office.answers.clear()
    house.pass_by(60)
    until(lambda: {} == dict(outbox.failing()), "the recovery")


def test_a_recovery_sends_everything_that_waited_for_it_at_once(house):
    house.office.answers["phone"] = down()
    house.outbox(pause=lambda _: 1800.0)
    leave(house.store, *(letter(n, "phone") for n in range(1, 5)))
    for number in range(1, 5):
        house.noted(1, number)
    house.office.answers.clear()
    leave(house.store, letter(5, "phone"))
    until(lambda: 0 == house.store.waiting(), "all of them sent")


def test_after_a_restart_what_waited_is_sent_at_once_and_still_known_as_failing(house):
    house.office.answers["phone"] = down()
    first = house.outbox(pause=lambda _: 1800.0)
    leave(house.store, letter(1, "phone", at=NOW - HOUR))
    house.noted(1)
    assert first.stop()
    hanging = house.office.answers["phone"] = Hanging()
    second = house.outbox()
    assert hanging.hung.acquire(timeout=SOON)
    assert {"phone": NOW - HOUR} == dict(second.failing())
    hanging.release.set()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "it sent")
    assert {} == dict(second.failing())


def test_stop_returns_while_a_channel_hangs_and_its_post_still_waits(house):
    hanging = house.office.answers["phone"] = Hanging()
    outbox = house.outbox(patience=Patience())
    leave(house.store, letter(1, "phone"))
    outbox.nudge()
    assert hanging.hung.acquire(timeout=SOON)
    assert outbox.stop(2.0)  # true only when the sender ended within it
    assert {(1, "phone"): "waiting"} == states(house.store)
    hanging.release.set()


def test_stop_lets_what_is_under_way_finish_and_marks_it_and_begins_nothing_new(house):
    hanging = house.office.answers["phone"] = Hanging()
    outbox = house.outbox(patience=Patience())
    leave(house.store, letter(1, "phone"), letter(2, "phone"))
    outbox.nudge()
    assert hanging.hung.acquire(timeout=SOON)
    threading.Timer(0.2, hanging.release.set).start()
    assert outbox.stop(SOON)
    assert {(1, "phone"): "sent", (2, "phone"): "waiting"} == states(house.store)
    assert [1] == house.office.tries("phone")


def test_stopping_what_was_never_started_is_no_error(house):
    outbox = Outbox(
        store=house.store, send=house.office, now=lambda: NOW, patience=Patience(), beat=lambda: None
    )  # fmt: skip
    assert outbox.stop()


def test_it_shows_a_sign_of_life_also_while_a_channel_hangs(house):
    hanging = house.office.answers["phone"] = Hanging()
    house.outbox()
    leave(house.store, letter(1, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.turns(5)
    hanging.release.set()


def test_a_foreign_error_is_told_by_its_class_because_its_words_may_hold_a_secret(house, caplog):
    def foreign(_post):
        raise OSError("https://host/TOKEN")

    house.office.answers["phone"] = foreign
    house.outbox(pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    house.noted(1)
    assert "OSError" == house.store.notices()[0].last_error
    assert "TOKEN" not in caplog.text


class Moody:
    """A store that refuses some of its calls for a while."""

    def __init__(self, store):
        self._store, self.refusing, self.calls = store, {}, []

    def __getattr__(self, name):
        def call(*args):
            self.calls.append(name)
            if name in self.refusing:
                raise self.refusing[name]
            return getattr(self._store, name)(*args)

        return call


def test_a_store_that_cannot_mark_makes_nobody_hear_twice_in_this_run(house, caplog):
    moody = Moody(house.store)
    moody.refusing["sent"] = StoreFull("the disk is full")
    house.outbox(store=moody)
    leave(house.store, letter(1, "phone"))
    until(lambda: moody.calls.count("sent") >= 3, "three tries to mark")
    house.turns()
    assert [1] == house.office.tries("phone")
    assert {(1, "phone"): "waiting"} == states(house.store)
    assert 1 == caplog.text.count("could not mark sent")
    moody.refusing.clear()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "the mark")
    assert [1] == house.office.tries("phone")


def test_a_store_that_cannot_be_read_stops_nothing_for_good(house, caplog):
    moody = Moody(house.store)
    moody.refusing["due"] = StoreBusy("locked")
    house.outbox(store=moody)
    leave(house.store, letter(1, "phone"))
    until(lambda: moody.calls.count("due") >= 5, "five looks")
    assert 1 == caplog.text.count("could not look what waits")
    moody.refusing.clear()
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "it sent")


def test_a_store_that_cannot_note_a_failed_try_does_not_make_us_hammer(house):
    moody = Moody(house.store)
    moody.refusing |= {"failed": StoreBusy("locked"), "give_up": StoreBusy("locked")}
    house.office.answers["phone"] = down()
    house.outbox(store=moody, pause=lambda _: 60.0)
    leave(house.store, letter(1, "phone"))
    until(lambda: 1 == len(house.office.tried), "the first try")
    house.turns(10)
    assert 1 == len(house.office.tried)


def test_even_a_bug_in_the_store_leaves_the_sender_alive(house, caplog):
    moody = Moody(house.store)
    moody.refusing["due"] = RuntimeError("a bug")
    house.outbox(store=moody)
    until(lambda: moody.calls.count("due") >= 3, "three looks")
    moody.refusing.clear()
    leave(house.store, letter(1, "phone"))
    until(lambda: {(1, "phone"): "sent"} == states(house.store), "it sent")
    assert "a turn of the outbox failed" in caplog.text


def test_harm_goes_straight_out_without_a_store_and_says_that_it_is_not_recorded(house):
    moody = Moody(house.store)
    moody.refusing |= dict.fromkeys(("due", "sent", "failed", "give_up"), StoreFull("the disk is full"))
    heard = []
    house.office.answers["phone"] = lambda post: heard.append(post.notice)
    outbox = house.outbox(store=moody)
    outbox.straight(Post(letter(7, "phone"), "phone"))
    until(lambda: heard, "it heard")
    assert letter(7, "phone").title == heard[0].title
    assert UNRECORDED == heard[0].lines[-1]
    assert [] == house.store.notices()


def test_what_goes_straight_out_is_tried_again_and_goes_before_everything_else(house):
    house.office.answers["phone"] = down()
    outbox = house.outbox(pause=lambda _: 60.0)
    outbox.straight(Post(letter(7, "phone"), "phone"))
    until(outbox.failing, "the first try")
    hanging = house.office.answers["phone"] = Hanging()
    house.turns()
    leave(house.store, letter(1, "phone"), letter(2, "phone"))
    assert hanging.hung.acquire(timeout=SOON)
    house.pass_by(60 * SECOND / 1000)
    hanging.release.set()
    until(lambda: 0 == house.store.waiting(), "all sent")
    assert [7, 1, 7, 2] == house.office.tries("phone")


def test_not_more_than_a_hundred_wait_without_a_store_and_the_oldest_is_given_up_loudly(house, caplog):
    house.office.answers["phone"] = down()
    outbox = house.outbox(pause=lambda _: 1e9)
    for number in range(1, 104):
        outbox.straight(Post(letter(number, "phone"), "phone"))
    until(lambda: 3 == caplog.text.count("too many wait without a store"), "three given up")
    house.turns()
    assert "notice 1 to keeper on phone given up" in caplog.text
