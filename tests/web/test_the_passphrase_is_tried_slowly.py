"""The passphrase by itself: scrypt, few tries, and the cookie that remembers it."""

import pytest

from monitor.addresses import Secret
from monitor.readings import DAY
from monitor.web.passphrase import FREE, LONGEST, Passphrase, Throttle, place_of

NOW, KEY = 1_768_400_000_000, b"k" * 32


class Hand:
    def __init__(self):
        self.seconds = 0.0

    def __call__(self):
        return self.seconds


@pytest.fixture
def hand():
    return Hand()


@pytest.fixture
def word(hand):
    return Passphrase(Secret("leaves under the snow"), KEY, patience=hand)


def test_the_right_one_opens_and_a_wrong_one_does_not(word):
    assert None is word.attempt("leaves under the snow", "here")
    assert 0.0 == word.attempt("leaves under the sno", "here")
    assert 0.0 == word.attempt("", "here")
    assert 0.0 == word.attempt("x" * 100_000, "here")


def test_letters_with_marks_are_the_same_however_a_keyboard_sends_them(hand):
    """Unicode's two forms of é (UAX #15)."""
    assert None is Passphrase(Secret("caf\u00e9"), KEY, patience=hand).attempt("cafe\u0301", "here")


def test_text_that_is_no_unicode_is_only_wrong(word):
    assert 0.0 == word.attempt("\ud800", "here")


def test_after_five_wrong_tries_even_the_right_one_has_to_wait(word, hand):
    waits = [word.attempt("wrong", "here") for _ in range(FREE)]
    assert [0.0, 0.0, 0.0, 0.0, 2.0] == waits
    assert 2.0 == word.attempt("leaves under the snow", "here")
    hand.seconds += 2
    assert None is word.attempt("leaves under the snow", "here")
    assert 0.0 == word.attempt("wrong", "here"), "the wrong ones are forgotten"


def test_each_further_one_doubles_the_pause_up_to_a_minute(hand):
    throttle, pauses = Throttle(hand), []
    for _ in range(12):
        hand.seconds += throttle.wait("here")
        throttle.wrong("here")
        pauses.append(throttle.wait("here"))
    assert [0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60, 60] == pauses and 60 == LONGEST


def test_who_guesses_elsewhere_does_not_lock_the_keeper_out(word):
    for _ in range(FREE):
        word.attempt("wrong", "elsewhere")
    assert None is word.attempt("leaves under the snow", "here")


def test_who_comes_while_another_is_reckoned_for_long_is_sent_away(word):
    with word._lock:
        assert 1.0 == word.attempt("leaves under the snow", "here")
    assert None is word.attempt("leaves under the snow", "here")


def test_an_hour_later_it_begins_anew(hand):
    throttle = Throttle(hand)
    for _ in range(FREE):
        throttle.wrong("here")
    hand.seconds += 3601
    throttle.wrong("here")
    assert 0 == throttle.wait("here")


def test_no_guesser_fills_the_memory(hand):
    throttle = Throttle(hand)
    for n in range(5000):
        throttle.wrong(str(n))
    assert 1000 == len(throttle._places)


@pytest.mark.parametrize(
    ("host", "place"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2::1", place_of("2001:db8:1:2:ffff::9")),
        (None, ""),
    ],
)
def test_a_place_is_an_address_or_a_household_of_ipv6(host, place):
    assert place == place_of(host)


def test_two_households_of_ipv6_are_two_places():
    assert place_of("2001:db8:1:2::1") != place_of("2001:db8:1:3::1")


def test_a_cookie_holds_for_thirty_days_in_its_own_browser(word):
    cookie = word.cookie("visit", NOW)
    assert word.knows("visit", cookie, NOW + 30 * DAY - 1)
    assert not word.knows("visit", cookie, NOW + 30 * DAY)
    assert not word.knows("another", cookie, NOW)


@pytest.mark.parametrize("cookie", ["", ".", "9999999999999.", "9999999999999.00", "x.y", "٣.x", "9" * 50 + ".x"])
def test_no_made_up_cookie_is_known(word, cookie):
    assert not word.knows("visit", cookie, NOW)


def test_a_cookie_with_another_end_is_not_known(word):
    end, _, seal = word.cookie("visit", NOW).partition(".")
    assert not word.knows("visit", f"{int(end) + 1}.{seal}", NOW)


def test_another_passphrase_or_another_key_ends_every_visit(word, hand):
    cookie = word.cookie("visit", NOW)
    assert not Passphrase(Secret("other"), KEY, patience=hand).knows("visit", cookie, NOW)
    assert not Passphrase(Secret("leaves under the snow"), b"o" * 32, patience=hand).knows("visit", cookie, NOW)


def test_a_program_says_it_with_each_question_and_is_known_again(word, monkeypatch):
    assert word.is_told_by_program("leaves under the snow", "here")
    monkeypatch.setattr(word, "attempt", None)
    assert word.is_told_by_program("leaves under the snow", "here")


def test_a_program_with_a_wrong_one_is_not_known(word):
    assert not word.is_told_by_program("wrong", "here")
