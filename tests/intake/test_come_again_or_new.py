"""Against a real Mosquitto: what comes a second time is told from what only looks like it, whoever was restarted.

A payload without a time of its own is told by packet identifier, payload and the DUP flag. What Mosquitto 2.0.11
does with that flag was read off it here, not off its documentation.
"""

import pytest

from intake.probes import probe
from parts.harm_house import saved
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import Road

PROBES = [probe("plain")]
ALIKE = [20.0] * 10
VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


def plain(values):
    return [("probes/plain", str(v).encode()) for v in values]


@pytest.fixture
def broker():
    with Mosquitto("autosave_interval 1800") as broker:
        yield broker


def loses_power(broker, then):
    """The broker goes on from what had been saved at an earlier moment."""
    broker.kill()
    (broker.folder / "mosquitto.db").write_bytes(then)
    broker.start()


def taken(broker, values, **how):
    """A road that keeps these and acknowledges them, unless `acknowledge` says otherwise."""
    with Road(broker.port, PROBES, **how) as road:
        publish(broker.port, plain(values))
        road.received(len(values)).flush()
    return road.store


def with_nothing_acknowledged(broker, values, **how):
    return taken(broker, values, acknowledge=lambda deliveries: None, **how)


def in_order(broker):
    broker.stop()
    broker.start()


def after_it_had_saved_them_as_sent(broker):
    loses_power(broker, saved(broker))


@VERSIONS
@pytest.mark.parametrize("restart", [in_order, after_it_had_saved_them_as_sent])
def test_the_broker_restarts_before_it_is_answered(broker, protocol, restart):
    store = with_nothing_acknowledged(broker, ALIKE, protocol=protocol)
    restart(broker)
    with Road(broker.port, PROBES, store=store, protocol=protocol) as road:
        road.received(10).flush()
    assert 10 == road.pump.counts().again
    assert (ALIKE, []) == (road.values("plain"), road.undated())


@VERSIONS
def test_the_broker_restarts_under_our_eyes_before_it_is_answered(broker, protocol):
    with Road(
        broker.port, PROBES, acknowledge=lambda deliveries: None, protocol=protocol, wired={"keepalive": 5}
    ) as road:
        publish(broker.port, plain(ALIKE))
        road.received(10).flush()
        in_order(broker)
        road.received(20).flush()
    assert 10 == road.pump.counts().again
    assert (ALIKE, []) == (road.values("plain"), road.undated())


@VERSIONS
def test_an_identifier_given_a_second_time_is_a_new_message(broker, protocol):
    # The broker lost power and counts from an older save: the same probe says the same few values under the same
    # identifiers, and we are away. Taken for redeliveries they would be lost.
    store = taken(broker, [], protocol=protocol)
    then = saved(broker)
    taken(broker, ALIKE, store=store, protocol=protocol)
    loses_power(broker, then)
    publish(broker.port, plain(ALIKE))
    with Road(broker.port, PROBES, store=store, protocol=protocol) as road:
        road.received(10).flush()
    twice = {d.packet for d in store.delivered()[:10]} & {d.packet for d in store.delivered()[10:]}
    assert len(twice) >= 9, "the broker gave no identifier twice: this test proves nothing"
    assert 0 == road.pump.counts().again
    assert (ALIKE, ALIKE) == (road.values("plain"), road.undated())


@VERSIONS
def test_what_the_broker_had_only_queued_in_an_older_save_is_shown_twice_and_lost_never(broker, protocol):
    # It cannot be told from the case above. Mosquitto takes it for never sent.
    store = taken(broker, [], protocol=protocol)
    publish(broker.port, plain(ALIKE))
    then = saved(broker)
    for _ in range(2):
        with Road(broker.port, PROBES, store=store, protocol=protocol) as road:
            road.received(10).flush()
        loses_power(broker, then)
    assert ([], 2 * ALIKE) == (road.values("plain"), road.undated())
