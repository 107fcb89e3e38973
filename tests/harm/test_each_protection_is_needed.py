"""The controls of test_killed_again_and_again.py: a death at one of its points and the same account, with one
protection taken away, find the harm that the protection is there against.
"""

import pytest

from parts.harm_house import QUEUE, House
from parts.harm_life import KINDS, TRAFFIC, Life, of_an_earlier_schema
from parts.mosquitto import Mosquitto

TIMELESS_ONLY = ("plain", "same", "ago")
CONTROLS = {
    "acknowledge_before_keeping": (("keep", 2), KINDS, "lost"),
    "mark_before_sending": (("sending", 1), KINDS, "untold"),
    "know_no_deliveries": (("kept", 2), TIMELESS_ONLY, "twice"),
    "know_no_keys": (("kept", 2), ("json",), "keys"),
    "batches_in_pieces": (("batch", 10), TIMELESS_ONLY, "twice"),
    "rounds_in_pieces": (("round", 1), KINDS, "untold"),
    "delays_in_memory": (("delay", 1), KINDS, "not raised"),
}
"""What is taken away: where we are then killed, who talks, and the fault that must be found."""


@pytest.mark.parametrize("without", CONTROLS)
def test_control(tmp_path, without):
    death, kinds, fault = CONTROLS[without]
    with Life(tmp_path, [death], kinds=kinds, without=[without]) as life:
        life.live_shortly()
        assert fault in life.faults()


def killed_in_a_migration(folder, broker, **how):
    """The next start after a death in the middle of the second step of a file of the first; what it once held."""
    house = House(folder, broker, "places: {yard: {}}\nbins:" + TRAFFIC)
    with house:
        assert 0 == house.daemon().up().stop()
        of_an_earlier_schema(house.store)
        house.daemon(kill="migration", nth=9, **how).killed("migration")
        again = house.daemon(**how)
        yield again
    yield house


@pytest.fixture
def broker():
    with Mosquitto(QUEUE) as broker:
        yield broker


def test_after_a_death_in_a_migration_the_next_start_goes_on(tmp_path, broker):
    life = killed_in_a_migration(tmp_path, broker)
    assert 0 == next(life).up().stop()


def test_control_a_migration_in_pieces_cannot_be_gone_on_with(tmp_path, broker):
    life = killed_in_a_migration(tmp_path, broker, without=["migrations_in_pieces"])
    again = next(life)
    assert 1 == again.process.wait(60)
    assert "already exists" in again.log()
