"""A line in a log costs a card as much as a batch of readings: where nothing moves, nobody writes one."""

import logging
import time
from pathlib import Path

import pytest

from parts.house import House
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import until

SHIPPED = (Path(__file__).parents[2] / "deploy" / "mosquitto" / "vermistat.conf").read_text()


def said(caplog, house, **celsius):
    caplog.clear()
    house.later(15).say(**celsius)
    return [record.getMessage() for record in caplog.records if record.name == "monitor.rounds"]


def test_a_round_in_which_nothing_moves_says_nothing_and_one_with_an_alarm_does(caplog):
    caplog.set_level(logging.INFO)
    house = House()
    house.say(fig_west=24.0, fig_east=24.0, plum_near=18.0)
    house.through(60, fig_west=24.0, fig_east=24.0, plum_near=18.0)  # what was never heard is told meanwhile
    quiet = [said(caplog, house, fig_west=24.0, fig_east=24.0, plum_near=18.0) for _ in range(4)]
    assert [[]] * 4 == quiet
    (line,) = said(caplog, house, fig_west=11.0, fig_east=11.0, plum_near=18.0)
    assert "1 steps" in line


def test_a_round_that_is_not_stored_is_loud(caplog, monkeypatch):
    caplog.set_level(logging.WARNING)
    house = House()
    house.flushed.ok = False
    assert any("NOT STORED" in line for line in said(caplog, house, fig_west=24.0))


@pytest.mark.parametrize("shipped", [True, False], ids=["as we ship it", "control: without our lines"])
def test_the_broker_as_we_ship_it_does_not_log_its_saves(shipped):
    text = SHIPPED.replace("autosave_interval 60", "autosave_interval 1")
    if not shipped:
        text = text.replace("log_type", "#log_type")
    with Mosquitto(text) as broker:
        saved = broker.folder / "mosquitto.db"

        def written():
            return saved.stat().st_mtime_ns if saved.exists() else 0

        publish(broker.port, [("probes/x", b"1")])
        until(written, "a first save", 20)
        first = written()
        publish(broker.port, [("probes/x", b"2")])
        until(lambda: written() > first, "another save", 20)
        time.sleep(0.05)
        assert ("Saving in-memory database" not in broker.log()) is shipped
        assert "New client connected" in broker.log()
