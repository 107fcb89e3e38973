"""The sender, the store and the sending together, against real servers that misbehave in every way we know."""

import logging

import pytest

from monitor.addresses import Secret
from monitor.notify.outbox import Outbox
from monitor.notify.send import send
from monitor.readings import HOUR
from monitor.store.sqlite import SqliteStore
from parts import mail, webhook
from parts.posting import NOW, Hand, leave, letter, states, until


class House:
    def __init__(self, path):
        self.store, self.patience, self.clock, self.urls = SqliteStore(path), Hand(), [NOW], {}
        self.silence = 0.3  # seconds of a peer's silence that are borne
        self.outbox = Outbox(
            store=self.store,
            send=self._send,
            now=lambda: self.clock[0],
            patience=self.patience,
            beat=lambda: None,
            bound=45,
            pause=lambda _: 60.0,
        )

    def _send(self, channel, post):
        send(Secret(self.urls[channel]), post.notice.title, post.notice.body, timeout=self.silence)

    def pass_by(self, seconds):
        self.clock[0] += int(seconds * 1000)
        self.patience.pass_by(seconds)

    def tries(self, channel):
        return [p.tries for p in self.store.notices() if p.channel == channel]


@pytest.fixture
def house(tmp_path):
    house = House(tmp_path / "kept.db")
    house.outbox.start()
    yield house
    house.outbox.stop(0.2)
    house.store.close()


@pytest.fixture
def good():
    with webhook.Webhook() as hook:
        yield hook


MAIL_BOX = f"?from={mail.FROM}&to={mail.TO}&mode=insecure"
MISBEHAVIOURS = {
    "hook refuses with 400": lambda: webhook.Webhook(webhook.refuse(400)),
    "hook refuses with 429": lambda: webhook.Webhook(webhook.refuse(429)),
    "hook refuses with 503": lambda: webhook.Webhook(webhook.refuse(503)),
    "hook sends elsewhere": lambda: webhook.Webhook(webhook.refuse(302, Location="http://127.0.0.1:9/")),
    "hook is silent": lambda: webhook.Webhook(webhook.keep_silent),
    "hook dies in the middle": lambda: webhook.Webhook(webhook.die_midway),
    "mail is refused for now": lambda: mail.PostOffice(mail.refuse_recipient("451 4.3.0 later")),
    "mail is refused for ever": lambda: mail.PostOffice(mail.refuse_recipient("550 5.1.1 never")),
    "mail message is refused": lambda: mail.PostOffice(mail.refuse_message("554 5.6.0 no")),
    "mail server is silent": lambda: mail.PostOffice(mail.hang),
    "mail server dies in the middle": lambda: mail.PostOffice(mail.die_midway),
}


@pytest.mark.parametrize("misbehaviour", MISBEHAVIOURS)
def test_whatever_a_server_does_nothing_is_lost_and_nobody_else_is_held_up(misbehaviour, house, good):
    with MISBEHAVIOURS[misbehaviour]() as server:
        house.urls = {"bad": server.url(), "good": good.url()}
        leave(house.store, letter(1, "bad", "good"), letter(2, "good"))
        assert {"[1]", "[2]"} == {text[text.index("[") :][:3] for text in good.texts(2)}
        until(lambda: house.tries("bad") == [1], "the first failed try")
        until(lambda: 1 == house.store.waiting(), "the marks of the good one")
        assert {(1, "bad"): "waiting", (1, "good"): "sent", (2, "good"): "sent"} == states(house.store)
        assert server.arrived.empty()
        server.behave = mail.take if isinstance(server, mail.PostOffice) else webhook.take
        house.pass_by(60)
        assert "[1]" in server.texts(1)[0]
        until(lambda: 0 == house.store.waiting(), "the mark")
        assert server.arrived.empty()


@pytest.mark.parametrize(
    ("greeting", "address"),
    [
        (b"HTTP/1.1 200 OK\r\nX-So-Far: ", "json://127.0.0.1:{}/hook"),
        (b"220-", "mailto://127.0.0.1:{}/" + MAIL_BOX),
    ],
    ids=["hook", "mail"],
)
def test_a_server_that_drips_for_ever_is_abandoned_and_the_post_goes_to_its_successor(
    greeting, address, house, good
):
    with webhook.Dripper(greeting) as dripper:
        house.urls = {"bad": address.format(dripper.port), "good": good.url()}
        leave(house.store, letter(1, "bad", "good"), letter(2, "good"))
        assert dripper._server.called.wait(webhook.SOON)
        assert 2 == len(good.texts(2))
        until(lambda: 1 == house.store.waiting(), "the marks of the good one")
        house.pass_by(45)
        until(lambda: house.tries("bad") == [1], "the abandoning")
        assert ["bad"] == list(house.outbox.failing())
        assert "no end after 45 s" == house.store.notices()[0].last_error
        with webhook.Webhook() as successor:
            house.urls["bad"] = successor.url()
            house.pass_by(60)
            assert "[1]" in successor.texts(1)[0]
        until(lambda: 0 == house.store.waiting(), "the mark")


def test_a_port_where_connecting_hangs_holds_up_nobody(house, good):
    with webhook.Wall() as wall:
        house.urls = {"bad": f"json://127.0.0.1:{wall.port}/hook", "good": good.url()}
        leave(house.store, letter(1, "bad", "good"), letter(2, "good"))
        assert 2 == len(good.texts(2))
        until(lambda: house.tries("bad") == [1], "the first failed try")
        until(lambda: 1 == house.store.waiting(), "the marks of the good one")
    assert {(1, "bad"): "waiting", (1, "good"): "sent", (2, "good"): "sent"} == states(house.store)


def test_a_slow_server_is_waited_for_and_its_post_marked_only_then(house):
    with webhook.Webhook(webhook.slow_but_sure) as slow:
        house.urls, house.silence = {"slow": slow.url()}, webhook.SOON
        leave(house.store, letter(1, "slow"))
        slow.tried.get(timeout=webhook.SOON)
        assert {(1, "slow"): "waiting"} == states(house.store)
        slow.released.set()
        assert "[1]" in slow.texts(1)[0]
        until(lambda: {(1, "slow"): "sent"} == states(house.store), "the mark")


def test_a_server_that_is_gone_for_a_day_makes_us_give_up_loudly(house, caplog):
    house.urls = {"gone": f"json://127.0.0.1:{webhook.closed_port()}/hooks/TOKENINPATH"}
    leave(house.store, letter(1, "gone"))
    until(lambda: house.tries("gone") == [1], "the first failed try")
    for tries in range(2, 10):
        house.pass_by(60)
        until(lambda wanted=tries: house.tries("gone") == [wanted], "the next")
    house.pass_by(24 * HOUR / 1000)
    until(lambda: {(1, "gone"): "given up"} == states(house.store), "the giving up")
    ours = [r for r in caplog.records if r.name.startswith("monitor.")]
    (said,) = [r.getMessage() for r in ours if r.levelno >= logging.ERROR]
    assert "notice 1 to keeper on gone given up after 10 tries" in said
    assert not [r for r in ours if "TOKENINPATH" in r.getMessage()]
    assert "TOKENINPATH" not in house.store.notices()[0].last_error
