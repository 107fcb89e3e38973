"""Every sentence of promises.Requests and promises.Outbox, for every store."""

import pytest

from monitor.errors import StoreError
from monitor.notify.notices import Post, Posted
from monitor.readings import MINUTE
from monitor.store.promises import Request
from parts.kept import T0, notice, round_


@pytest.fixture
def posted(store):
    """Notices 1 and 2 on two channels each, 3 on none."""
    store.commit(round_(1, notices=[notice(1, ("phone", "mail")), notice(2, ("mail", "phone")), notice(3, ())]))
    return store


def names(posts):
    return [(post.notice.number, post.channel) for post in posts]


def test_nothing_is_due_at_first(store):
    assert [] == store.due(T0)
    assert 0 == store.waiting()


def test_a_notice_becomes_a_post_on_each_channel_due_at_once(posted):
    assert [
        Post(notice(1, ("phone", "mail")), "phone"),
        Post(notice(1, ("phone", "mail")), "mail"),
        Post(notice(2, ("mail", "phone")), "mail"),
        Post(notice(2, ("mail", "phone")), "phone"),
    ] == posted.due(0)
    assert posted.due(0) == posted.notices()
    assert 4 == posted.waiting()


def test_a_channel_that_stands_twice_is_posted_to_once(store):
    store.commit(round_(1, notices=[notice(1, ("mail", "phone", "mail"))]))
    assert [(1, "mail"), (1, "phone")] == names(store.due(0))


def test_the_oldest_notice_is_due_first_also_when_it_was_committed_last(store):
    store.commit(round_(1, notices=[notice(2, ("b", "a")), notice(1, ("c",))]))
    assert [(1, "c"), (2, "b"), (2, "a")] == names(store.due(0))
    assert [(1, "c"), (2, "b")] == names(store.due(0, limit=2))
    assert [] == store.due(0, limit=0)


def test_the_newest_posts_are_given_newest_notice_last(posted):
    assert [(1, "mail"), (2, "mail"), (2, "phone")] == names(posted.notices(limit=3))


def test_a_sent_post_waits_no_more(posted):
    posted.sent(1, "phone", T0 + 5)
    assert [(1, "mail"), (2, "mail"), (2, "phone")] == names(posted.due(T0))
    assert 3 == posted.waiting()
    assert Post(notice(1), "phone", Posted.SENT, tries=1, sent_at=T0 + 5) == posted.notices()[0]


def test_marking_sent_twice_changes_nothing(posted):
    posted.sent(1, "phone", T0 + 5)
    before = posted.notices()
    posted.sent(1, "phone", T0 + 99)
    assert before == posted.notices()


def test_a_failed_post_is_due_when_its_next_try_is(posted):
    posted.failed(1, "phone", T0 + MINUTE, "no route")
    assert (1, "phone") not in names(posted.due(T0 + MINUTE - 1))
    assert (
        Post(notice(1), "phone", tries=1, next_try=T0 + MINUTE, last_error="no route")
        == posted.due(T0 + MINUTE)[0]
    )
    assert 4 == posted.waiting()


def test_every_try_counts(posted):
    posted.failed(1, "phone", T0 + 1, "no route")
    posted.failed(1, "phone", T0 + 2, "refused")
    posted.sent(1, "phone", T0 + 3)
    assert (
        Post(notice(1), "phone", Posted.SENT, tries=3, next_try=T0 + 2, last_error="refused", sent_at=T0 + 3)
        == posted.notices()[0]
    )


def test_what_is_given_up_waits_no_more_and_says_why(posted):
    posted.failed(1, "phone", T0 + 1, "no route")
    posted.give_up(1, "phone", "no such address")
    assert (1, "phone") not in names(posted.due(T0 + MINUTE))
    assert 3 == posted.waiting()
    given_up = Post(notice(1), "phone", Posted.GIVEN_UP, tries=2, next_try=T0 + 1, last_error="no such address")
    assert given_up == posted.notices()[0]


@pytest.mark.parametrize("end", ["sent", "given up"])
def test_a_post_that_no_longer_waits_cannot_fail(posted, end):
    posted.sent(1, "phone", T0) if end == "sent" else posted.give_up(1, "phone", "gone")
    before = posted.notices()
    posted.failed(1, "phone", T0 + 1, "late news")
    posted.give_up(1, "phone", "late news")
    assert before == posted.notices()


def test_a_post_given_up_can_turn_out_to_be_sent(posted):
    posted.give_up(1, "phone", "no answer")
    posted.sent(1, "phone", T0 + 5)
    assert (Posted.SENT, T0 + 5, 2) == (
        posted.notices()[0].state,
        posted.notices()[0].sent_at,
        posted.notices()[0].tries,
    )


def test_one_channel_of_a_notice_does_not_touch_the_other(posted):
    posted.sent(1, "phone", T0)
    posted.give_up(2, "mail", "gone")
    assert [(1, "mail"), (2, "phone")] == names(posted.due(T0))


@pytest.mark.parametrize(("number", "channel"), [(1, "letter"), (3, "phone"), (9, "phone")])
def test_telling_of_a_post_that_never_was_is_refused_and_changes_nothing(posted, number, channel):
    before = posted.notices()
    for tell in (
        lambda: posted.sent(number, channel, T0),
        lambda: posted.failed(number, channel, T0, "no"),
        lambda: posted.give_up(number, channel, "no"),
    ):
        with pytest.raises(StoreError):
            tell()
    assert before == posted.notices()


def test_requests_are_given_in_the_order_of_asking(store):
    ids = [store.ask(T0 + 9 - n, who, "seen", n) for n, who in enumerate(["ana", "ben", "ana"])]
    assert ids == sorted(set(ids))
    assert [
        Request(ids[0], T0 + 9, "ana", "seen", 0),
        Request(ids[1], T0 + 8, "ben", "seen", 1),
        Request(ids[2], T0 + 7, "ana", "seen", 2),
    ] == store.asked()


def test_the_id_of_a_request_is_never_used_again(store):
    first = store.ask(T0, "ana", "seen", 1)
    store.commit(round_(1, requests=[first]))
    assert first < store.ask(T0, "ana", "seen", 1)


def test_dealing_with_a_request_before_it_is_asked_does_not_swallow_it(store):
    first = store.ask(T0, "ana", "seen", 1)
    store.commit(round_(1, requests=[first, first + 1]))
    second = store.ask(T0, "ana", "seen", 2)
    assert [second] == [request.id for request in store.asked()]


def test_a_request_may_be_about_no_alarm_and_carries_what_belongs_to_it(store):
    number = store.ask(T0, "ana", "fed", body='{"kg": 1.5}')
    assert [Request(number, T0, "ana", "fed", 0, "", '{"kg": 1.5}')] == store.asked()


def test_a_request_keeps_its_note(store):
    store.ask(T0, "ana", "done", 1, "4 L, settled – 温度")
    assert ["4 L, settled – 温度"] == [request.note for request in store.asked()]
