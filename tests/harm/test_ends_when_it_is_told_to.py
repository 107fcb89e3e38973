"""SIGTERM: within five seconds the daemon has committed and acknowledged everything and is gone with exit code 0,
whatever hangs around it.
"""

import signal
from contextlib import closing

import pytest

from parts.harm_house import QUEUE, USERS, House, left_at_the_broker, signalled
from parts.harm_life import TRAFFIC, Talk, Tub
from parts.influx import Influx
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.webhook import Wall, Webhook, drip, keep_silent, take

IN_TIME = 5
SELDOM = 600
"""Seconds between rounds, so that what came lies in hand when the end comes."""
TUB = Tub(1)
BINS = "places: {yard: {}, nook-t001: {}}\nbins:" + TRAFFIC + TUB.text
MANY = 9
"""Messages: one less than those after which a broker is suspected to wait for us."""


@pytest.fixture
def hook():
    with Webhook() as hook:
        yield hook


@pytest.fixture
def broker():
    with Mosquitto(QUEUE) as broker:
        yield broker


@pytest.fixture
def house(tmp_path, broker, hook):
    with House(tmp_path, broker, BINS, channels={"hook": hook.url()}) as house:
        yield house


def with_a_batch_in_hand(house, broker):
    """A daemon that has received something and kept none of it; and what that is."""
    daemon = house.daemon(period=SELDOM, tell=True).up().says("round 1")
    with closing(Talk(broker, ["json", "plain", "both"])) as talk:
        talk.say(MANY // 3)
        talk.stop()
        daemon.says("received", MANY)
    assert 0 == house.ask(lambda store: store.counted())
    return daemon, talk


def all_is_kept(house, talk):
    found = house.ask(lambda store: store.after(0))
    assert talk.dated.total() + talk.timeless.total() == len(found)
    assert set(talk.dated) <= {(r.probe, r.at, round(r.value * 10_000)) for r in found}


def telling(house, hook, broker, tub):
    """A daemon that is in the middle of sending a notice."""
    daemon = house.daemon().up()
    with closing(Talk(broker, ["plain"])) as talk:
        tub.say(talk)
    assert "Tub t001" in hook.tried.get(timeout=20)
    return daemon


def test_everything_is_committed_and_acknowledged(house, broker):
    daemon, talk = with_a_batch_in_hand(house, broker)
    assert 0 == daemon.stop(IN_TIME)
    all_is_kept(house, talk)
    assert [] == left_at_the_broker(broker)


def test_at_the_very_moment_in_which_it_begins_to_wait_for_it(house):
    assert 0 == house.daemon(end=True).process.wait(4 * IN_TIME), "start-up and end"


@pytest.mark.parametrize("behave", [keep_silent, drip])
def test_while_a_channel_hangs_and_the_notice_is_told_after_the_next_start(house, hook, broker, behave):
    hook.behave = behave
    daemon = telling(house, hook, broker, Tub(1))
    assert 0 == daemon.stop(IN_TIME)
    assert [] == left_at_the_broker(broker)
    assert 1 == house.ask(lambda store: store.waiting())
    hook.behave = take
    again = house.daemon()
    assert "Tub t001" in hook.texts(1)[0]
    house.until(lambda store: not store.waiting(), "the notice is marked")
    assert 0 == again.stop(IN_TIME)


def test_while_the_broker_is_away(house, broker):
    daemon, talk = with_a_batch_in_hand(house, broker)
    broker.kill()
    daemon.says("broker down")
    assert 0 == daemon.stop(IN_TIME)
    all_is_kept(house, talk)


def test_while_the_broker_is_away_and_a_channel_hangs(house, hook, broker):
    hook.behave = keep_silent
    daemon = telling(house, hook, broker, Tub(1))
    broker.kill()
    daemon.says("broker down")
    assert 0 == daemon.stop(IN_TIME)
    assert 1 == house.ask(lambda store: store.waiting())


def test_while_the_broker_was_never_there(house, broker):
    broker.kill()
    daemon = house.daemon().says("broker down")
    assert 0 == daemon.stop(IN_TIME)


def test_while_the_broker_hangs_with_a_batch_in_our_hand(house, broker):
    daemon, talk = with_a_batch_in_hand(house, broker)
    signalled(broker, signal.SIGSTOP)
    assert 0 == daemon.stop(IN_TIME)
    all_is_kept(house, talk)


def test_while_connecting_hangs_and_a_channel_hangs(tmp_path, house, hook, broker):
    hook.behave = keep_silent
    telling(house, hook, broker, Tub(1)).kill()
    with Wall() as wall:
        broker.port, real = wall.port, broker.port
        cut_off = House(tmp_path, broker, BINS, channels={"hook": hook.url()}, store=house.store)
        broker.port = real
        with cut_off:
            hook.tried.queue.clear()
            daemon = cut_off.daemon().says("round 1").says("round")
            assert "Tub t001" in hook.tried.get(timeout=20)
            assert 0 == daemon.stop(IN_TIME)


def test_while_the_broker_is_silent_in_the_middle_of_the_tls_handshake(tmp_path):
    with Mosquitto(QUEUE, users=USERS, tls=True) as broker, House(tmp_path, broker, BINS) as house:
        signalled(broker, signal.SIGSTOP)
        assert 0 == house.daemon().says("round 1").stop(IN_TIME)


def test_a_database_that_answers_nothing_holds_up_neither_rounds_nor_the_end(tmp_path, broker):
    with (
        Influx() as server,
        House(tmp_path, broker, BINS, database=server.database("yard")) as house,
        closing(Talk(broker, ["json", "plain", "both"])) as talk,
    ):
        server.freeze()
        daemon = house.daemon(here=3600).up()
        talk.say(50)
        talk.stop()
        house.until(lambda store: store.counted() >= talk.dated.total() + talk.timeless.total(), "all is kept")
        rounds = house.ask(lambda store: store.rounds(1)[0].number)
        daemon.says(f"round {rounds + 5}:")
        assert 0 == daemon.stop(IN_TIME)
        server.thaw()
        all_is_kept(house, talk)
        daemon = house.daemon(here=3600).up()
        there = 'SELECT count("value") FROM "reading"'
        until(
            lambda: server.query(there, "yard") and server.query(there, "yard")[0]["values"][0][1] == 200,
            "all is sent",
            60,
        )
        assert 0 == daemon.stop()
