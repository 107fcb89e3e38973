"""The whole daemon on a Monday, killed with −9 around the mail of the week: it comes twice at most, never not at all, and once
when nobody kills.
"""

import json
import time
from contextlib import contextmanager
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.readings import DAY, MINUTE, Reading
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.harm_house import QUEUE, House
from parts.mail import PostOffice
from parts.mosquitto import Mosquitto

BINS = """
bins:
  fig:
    species: eisenia-fetida
    zones: {west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west, every: 15 min}}}}
"""


def monday():
    """The next one, a while after half past seven, in Millis."""
    now = datetime.now(ZoneInfo("Europe/Lisbon"))
    day = now + timedelta(days=7 - now.weekday())
    return round(day.replace(hour=9, minute=30).timestamp() * 1000)


@contextmanager
def monday_house(tmp_path, office):
    """A house whose last week is kept already; its clock says Monday, half past nine."""
    at = monday()
    with Mosquitto(QUEUE) as broker, House(tmp_path, broker, BINS, channels={"mail": office.url()}) as house:
        store = SqliteStore(house.store)
        store.keep(Batch(readings=[Reading("fig-west", t, 19.0, t) for t in range(at - 8 * DAY, at, 15 * MINUTE)]))
        store.close()
        house.clocks = tmp_path / "clocks.json"
        clocks = {"off": at - round(time.time() * 1000), "boot": "one", "base": 0, "synced": True}
        house.clocks.write_text(json.dumps(clocks))
        yield house


def weeks(office):
    return [office.arrived.get_nowait() for _ in range(office.arrived.qsize())]


def posted(store):
    return [str(p.state) for p in store.notices(100) if p.notice.slot == "the week"]


def lives_on(house, **wishes):
    daemon = house.daemon(machine=str(house.clocks), **wishes)
    house.until(lambda store: posted(store) == ["sent"], "the week is marked sent")
    rounds = house.ask(lambda store: store.rounds(1)[0].number)
    house.until(lambda store: store.rounds(1)[0].number >= rounds + 3, "three rounds more")
    assert 0 == daemon.stop()


@pytest.mark.parametrize(("point", "comes"), [("sending", 1), ("sent", 2), (None, 1)])
def test_killed_around_sending_the_week_comes_at_least_once_and_twice_at_most(tmp_path, point, comes):
    with PostOffice() as office, monday_house(tmp_path, office) as house:
        if point is not None:
            house.daemon(machine=str(house.clocks), kill=point).killed(point)
        lives_on(house)
        found = weeks(office)
        assert comes == len(found)
        assert all("The yard: the week of" in text for text in found)
        assert 1 == len(set(found)), "each try says the same"


def test_control_marked_before_it_is_sent_it_would_be_lost(tmp_path):
    with PostOffice() as office, monday_house(tmp_path, office) as house:
        house.daemon(machine=str(house.clocks), kill="sending", without=["mark_before_sending"]).killed("sending")
        lives_on(house)
        assert [] == weeks(office)
