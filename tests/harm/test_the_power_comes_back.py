"""As processes: a daemon killed under one boot and started under the next says for how long the power was off; one that
is only started again says nothing of power. The boot is what a file says (`machine`), all else is the real thing.
"""

import json
import queue
from contextlib import closing

import pytest

from monitor.clock import time_since_boot
from monitor.readings import HOUR, MINUTE, SECOND
from parts.harm_house import QUEUE, SOON, House
from parts.harm_life import Talk, now
from parts.mosquitto import Mosquitto
from parts.webhook import Webhook

BINS = """
places: {yard: {}}
mats: {wide-mat: {power: 40 W, warms: [vat.only], control: hand}}
bins:
  vat:
    species: eisenia-fetida
    stands_in: yard
    limits: {temperature: {comfort: 15..29 °C}}
    zones: {only: {probes: {vat-v: {measures: temperature, topic: vat, field: /v, time: /at}}}}
"""


@pytest.fixture
def yard(tmp_path):
    with (
        Mosquitto(QUEUE) as broker,
        Webhook() as hook,
        House(tmp_path, broker, BINS, channels={"hook": hook.url()}) as house,
        closing(Talk(broker)) as talk,
    ):
        yield Yard(house, talk, hook, tmp_path / "clocks.json")


class Yard:
    """The wall is `ahead` of the real one: so a machine is off for hours in no time."""

    def __init__(self, house, talk, hook, clocks):
        self.house, self.talk, self.hook, self._clocks = house, talk, hook, clocks
        self.ahead = 0

    def boots(self, name, ahead=0):
        self.ahead += ahead
        said = {"boot": name, "off": self.ahead, "base": time_since_boot() - 30 * SECOND, "synced": True}
        self._clocks.write_text(json.dumps(said))
        return self

    def daemon(self):
        """One that has judged a reading of its own time."""
        daemon = self.house.daemon(machine=str(self._clocks)).up()
        at = now() + self.ahead
        self.talk.publish("vat", json.dumps({"v": 20.0, "at": at}))
        self.house.until(lambda _: self.house.judged("vat-v", at), "a reading is judged")
        return daemon

    def power(self, store):
        return [str(t.event) for t in store.transitions() if t.key.condition == "power came back"]


def test_another_boot_is_told_once_with_how_long_it_was_off_and_what_to_look_at(yard):
    yard.boots("one").daemon().kill()
    yard.boots("two", ahead=3 * HOUR)
    for _ in range(2):
        daemon = yard.daemon()
        yard.house.until(lambda s: yard.power(s) == ["raised"] and not s.waiting(), "it is told")
        daemon.kill()
    text = yard.hook.arrived.get(timeout=SOON)
    assert "see that wide-mat is on again" in text
    with yard.house.kept() as store:
        (alarm,) = (a for a in store.load().alarms if a.key.condition == "power came back")
        assert 1 == len({p.notice.number for p in store.notices()})
        off = alarm.since - store.rounds(10_000)[0].at
    assert 3 * HOUR - 2 * MINUTE < off < 3 * HOUR + 2 * MINUTE
    assert alarm.evidence.arithmetic.startswith(("nothing was heard for 2 h 59 min", "nothing was heard for 3 h"))
    assert alarm.evidence.arithmetic.endswith("every probe has spoken since")


@pytest.mark.parametrize("end", ["killed", "stopped"])
def test_control_a_service_that_is_only_started_again_says_nothing_of_power(yard, end):
    daemon = yard.boots("one").daemon()
    daemon.kill() if end == "killed" else daemon.stop()
    daemon = yard.daemon()
    assert 0 == daemon.stop()
    with yard.house.kept() as store:
        assert ([], []) == (yard.power(store), store.notices())
    with pytest.raises(queue.Empty):
        yard.hook.arrived.get_nowait()


def test_a_machine_that_is_started_anew_by_somebody_says_nothing_of_power(yard):
    assert 0 == yard.boots("one").daemon().stop()
    assert 0 == yard.boots("two", ahead=2 * MINUTE).daemon().stop()
    with yard.house.kept() as store:
        assert [] == yard.power(store)
