"""The disk fills up under the running daemon. Nothing is acknowledged, harm and the failing store itself are told past
the store, being blind is told, and as soon as there is room everything that was held is kept, judged and told.
"""

from contextlib import closing, contextmanager

import pytest

from parts.harm_house import QUEUE, SOON, House, Listening, left_at_the_broker
from parts.harm_life import TRAFFIC, Talk, Tub, of_readings
from parts.loop_disk import fill, formatted, mounted
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.webhook import Webhook

TUB = Tub(1)
BINS = "places: {yard: {}, nook-t001: {}}\nbins:" + TRAFFIC + TUB.text
UNRECORDED = "Not recorded: the store is failing."
ROOMY = f"{QUEUE}\nmax_inflight_messages 1000"
"""As we ship it. As Mosquitto comes, and under MQTT 3.1.1, it has 20 messages in flight, and our hand, for 1000, is
never full.
"""


@contextmanager
def on_a_small_disk(folder, broker, *, protocol="auto", **channels):
    """A site whose store has a disk of its own, and that disk."""
    with (
        mounted(formatted(folder / "disk", 4), folder / "shed") as disk,
        House(folder, broker, BINS, channels=channels, store=disk / "kept.db", protocol=protocol) as house,
    ):
        yield house, disk


def filled_up(daemon, disk):
    """Full, and what was still free inside the store's own files used up by its rounds."""
    ballast = fill(disk)
    daemon.says("NOT STORED")
    return ballast


def heard(hook, *words):
    """The next notice that has all of these words; those before it are taken, too."""
    while True:
        (text,) = hook.texts(1)
        if all(word in text for word in words):
            return text


def all_is_well(house, broker, talk):
    with house.kept() as store:
        assert {} == {kind: what for kind, what in of_readings(store, talk).items() if what}
        steps = [str(t.event) for t in store.transitions() if t.key.condition == "store failing"]
        assert ["raised", "returned"] == steps
        assert ["raised"] == [str(t.event) for t in store.transitions() if t.key.subject.id == TUB.id]
        assert not store.waiting()
    assert [] == left_at_the_broker(broker)


@pytest.mark.parametrize(
    ("window", "protocol", "each"),
    [(ROOMY, "5", 400), (QUEUE, "3.1.1", 20)],
    ids=["our hand is full", "the broker's window is"],
)
def test_what_is_held_is_judged_and_told_and_kept_when_there_is_room(tmp_path, window, protocol, each):
    with (
        Mosquitto(window) as broker,
        Webhook() as hook,
        Listening(tmp_path / "notify") as systemd,
        on_a_small_disk(tmp_path, broker, protocol=protocol, hook=hook.url()) as (house, disk),
        closing(Talk(broker, ["json", "plain", "both"])) as talk,
    ):
        daemon = house.daemon(tell=True, environ={"NOTIFY_SOCKET": systemd.path}).up()
        talk.say(5)
        house.until(lambda store: store.counted() == 20, "the first readings")
        ballast = filled_up(daemon, disk)
        assert UNRECORDED in heard(hook, "see to the disk", "nothing can be kept", "make room on it")

        answered = daemon.log().count("harm: acknowledged")
        before = house.ask(lambda store: (store.counted(), len(store.transitions())))
        TUB.say(talk)
        assert UNRECORDED in heard(hook, "Tub t001", "34.5 °C")
        talk.say(each)
        assert UNRECORDED in heard(hook, "no bin is watched", "unseen")
        systemd.waiting()
        assert "WATCHDOG=1" == systemd.next(), "it lives, and so do its threads"
        assert answered == daemon.log().count("harm: acknowledged")
        assert before == house.ask(lambda store: (store.counted(), len(store.transitions())))

        ballast.unlink()
        assert UNRECORDED not in heard(hook, "Tub t001", "34.5 °C")
        assert UNRECORDED not in heard(hook, "Vermistat: over, store failing")
        last = talk.say_last()
        until(lambda: house.judged("json-v", last), "the last reading is judged", SOON)
        house.until(lambda store: not store.waiting(), "every notice is marked")
        assert 0 == daemon.stop()
        all_is_well(house, broker, talk)
        assert [] == list(hook.arrived.queue), "nothing is told a third time"


def killed_while_it_is_full(folder, *, without=()):
    """What is lost or kept twice when the daemon dies with its hand full of what the disk does not take."""
    with (
        Mosquitto(ROOMY) as broker,
        on_a_small_disk(folder, broker) as (house, disk),
        closing(Talk(broker, ["json", "plain", "both"])) as talk,
    ):
        daemon = house.daemon(tell=True, without=without).up()
        ballast = filled_up(daemon, disk)
        received = daemon.log().count("harm: received")
        talk.say(20)
        talk.stop()
        daemon.says("harm: received", received + 60)
        failed = daemon.log().count("NOT STORED")
        daemon.says("NOT STORED", failed + 2)
        daemon.kill()
        ballast.unlink()
        last = talk.say_last()
        again = house.daemon().up()
        until(lambda: house.judged("json-v", last), "the last reading is judged", SOON)
        assert 0 == again.stop()
        with house.kept() as store:
            return {kind: what for kind, what in of_readings(store, talk).items() if what}


def test_killed_while_it_is_full_nothing_is_lost(tmp_path):
    assert {} == killed_while_it_is_full(tmp_path)


def test_control_acknowledged_before_it_was_kept_it_is_lost(tmp_path):
    assert "lost" in killed_while_it_is_full(tmp_path, without=["acknowledge_before_keeping"])
