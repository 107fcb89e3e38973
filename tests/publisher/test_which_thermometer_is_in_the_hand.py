import json
from pathlib import Path

import pytest

from monitor.clock import Patience
from monitor.publisher.finding import Found, Warmth, find_facts, find_text, finding
from monitor.publisher.reading import KINDS
from monitor.rules import Units
from monitor.science.onewire import crc8

A, B, C = "28-0316a2795b1c", "28-0316a2796e44", "28-0416c1a90bff"


def slave(celsius):
    """What the kernel says of a thermometer at so many degrees."""
    word = round(celsius * 16) & 0xFFFF
    pad = bytes([word & 0xFF, word >> 8, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10])
    shown = " ".join(f"{byte:02x}" for byte in [*pad, crc8(pad)])
    return f"{shown} : crc={crc8(pad):02x} YES\n{shown} t={int(celsius * 1000)}\n"


def test_whichever_rises_alone_is_the_one_and_is_named_once():
    warmth = Warmth()
    assert warmth.take({A: 19.0, B: 19.5}) is None
    assert warmth.take({A: 20.5, B: 19.5}) is None
    assert A == warmth.take({A: 21.0, B: 19.5})
    assert warmth.take({A: 27.0, B: 19.5}) is None
    assert B == warmth.take({A: 26.0, B: 21.5})


def test_a_shed_that_warms_up_names_nobody():
    warmth = Warmth()
    for rise in range(10):
        assert warmth.take({A: 10.0 + rise, B: 10.5 + rise, C: 9.0 + rise}) is None


def test_two_in_two_hands_name_nobody_until_one_is_ahead():
    warmth = Warmth()
    warmth.take({A: 19.0, B: 19.0})
    assert warmth.take({A: 23.0, B: 23.5}) is None
    assert A == warmth.take({A: 25.0, B: 23.5})


def test_one_that_was_warm_from_the_start_is_named_when_it_was_put_down_and_taken_again():
    warmth = Warmth()
    warmth.take({A: 30.0, B: 19.0})
    assert warmth.take({A: 25.0, B: 19.0}) is None
    assert A == warmth.take({A: 27.5, B: 19.0})


def test_a_thermometer_that_is_silent_for_a_while_or_comes_later_is_no_trouble():
    warmth = Warmth()
    warmth.take({A: 19.0})
    assert warmth.take({}) is None
    assert warmth.take({A: 19.0, B: 26.0}) is None
    assert A == warmth.take({A: 21.0})


class Bus:
    """A folder that holds what the kernel's would, and changes while it is looked at."""

    def __init__(self, root, **celsius):
        self.root = Path(root)
        for chip, value in celsius.items():
            self.set(chip.replace("_", "-"), value)

    def set(self, chip, celsius):
        folder = self.root / "bus/w1/devices" / chip
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "w1_slave").write_text(slave(celsius))


class Hand(Patience):
    """Time passes as somebody warms one after the other: at each pause the next thing is done."""

    def __init__(self, bus, *acts):
        self._bus, self._acts, self._at = bus, list(acts), 0.0

    def now(self):
        return self._at

    def wait(self, event, seconds):
        self._at += 1.0
        if self._acts:
            self._bus.set(*self._acts.pop(0))
        return False


@pytest.fixture
def bus(tmp_path):
    return Bus(tmp_path, **{A.replace("-", "_"): 19.0, B.replace("-", "_"): 19.0, C.replace("-", "_"): 19.0})


def test_names_are_given_in_the_order_they_are_warmed_and_the_lines_are_shown(bus):
    said = []
    hand = Hand(bus, (B, 24.0), (B, 29.0), (A, 22.0))
    found = finding(["fig-west", "fig-east"], seconds=60, patience=hand, say=said.append, root=bus.root)
    assert [("fig-west", B), ("fig-east", A)] == found.named
    assert [C] == found.left
    assert f"{B} rises: it is fig-west." in said
    text = find_text(found)
    assert f"  fig-west: {{onewire: {B}}}\n  fig-east: {{onewire: {A}}}\n  # {C}: was not warmed" in text
    assert {"named": [{"probe": "fig-west", "onewire": B}, {"probe": "fig-east", "onewire": A}], "left": [C]} == (
        json.loads(json.dumps(find_facts(found)))
    )
    for _, chip in found.named:
        KINDS["onewire"]["onewire"].read(chip, Units.METRIC)


def test_without_names_every_thermometer_is_asked_for_until_the_time_is_over(bus):
    found = finding([], seconds=20, patience=Hand(bus, (A, 24.0)), say=lambda _: None, root=bus.root)
    assert ([("probe-1", A)], [B, C]) == (found.named, found.left)


def test_with_nothing_on_the_bus_it_says_what_to_look_at(tmp_path):
    said = []
    assert Found() == finding([], seconds=5, patience=Patience(), say=said.append, root=tmp_path)
    assert "No thermometer is on the 1-wire bus" in said[0]
    assert "None was named." == find_text(Found())


def test_ctrl_c_is_enough_of_it_and_what_was_named_is_shown(bus):
    class Tired(Hand):
        def wait(self, event, seconds):
            if not self._acts:
                raise KeyboardInterrupt
            return super().wait(event, seconds)

    found = finding([], seconds=1e9, patience=Tired(bus, (A, 24.0), (B, 19.0)), say=lambda _: None, root=bus.root)
    assert [("probe-1", A)] == found.named


def test_chips_that_are_no_thermometers_of_this_kind_are_left_alone(bus):
    for other in ("w1_bus_master1", "10-0008012345ab", "26-000000000001"):
        (bus.root / "bus/w1/devices" / other).mkdir()
    found = finding([], seconds=3, patience=Hand(bus), say=lambda _: None, root=bus.root)
    assert [A, B, C] == found.left
