"""How old the outdoor forecast was that a night was told by is shown to whoever asks why; in a notice only once it is lost."""

import pytest

from monitor.bed.room import Air
from monitor.intake.outdoors import keep
from monitor.readings import HOUR
from monitor.reports import expecting
from monitor.reports.foreseen import forecast_facts, forecast_text
from monitor.reports.saying import Saying
from monitor.reports.text import why_text
from monitor.reports.why import why_facts
from monitor.store.memory import MemoryStore
from parts.nights import clock
from rounds.test_a_cold_night_is_told_ahead import Night, cold_front, copied, night

DAYS, EVERY = 18, 3 * HOUR
"""The room learns for a week how it follows the outdoors, and each zone for as long how wrong its nights by it are."""


class Outside(Night):
    """The air outdoors is two degrees colder than the shed; a forecast of it comes every three hours until it is `lost`."""

    lost = False

    def comes(self):
        hours = [(self.at // HOUR * HOUR + n * HOUR, self.air(self.at + n * HOUR) - 2.0) for n in range(-2, 49)]
        keep(self.store, hours, self.at)

    def live(self, hours, *, rounds=True):
        for _ in range(round(hours * 4)):
            if not self.lost and self.at % EVERY == 0:
                self.comes()
            super().live(0.25, rounds=rounds and (self.quarterly or self.at % HOUR >= 45 * 60_000))
        return self

    quarterly = False


@pytest.fixture(scope="module")
def lived():
    begun = night(learns=False)
    house = Outside(rules=begun.rules, store=MemoryStore(), at=begun.at)
    for day in range(DAYS):
        if day % 3:
            house.switch(day % 3 == 1)
        house.live(24)
    return house


@pytest.fixture
def shed(lived):
    house = Outside(rules=lived.rules, store=copied(lived.store), at=lived.at)
    house.level, house.warmth, house.mat, house.quarterly = lived.level, lived.warmth, lived.mat, True
    return house


def told(house):
    return house.rounds.stands.nights["fig"]["west"]


def looked(house):
    """What `vermistat why` says of the cold night, and `vermistat forecast` of its zone."""
    number = next(a.number for a in house.rounds.stands.alarms.values() if a.key.condition == "cold night ahead")
    saying = Saying(house.rules, house.at)
    why, zones = (
        why_facts(house.store, house.rules, number, house.at),
        forecast_facts(house.store, house.rules, house.at),
    )
    return why, why_text(why, saying), zones, forecast_text(zones, saying)


def test_a_night_told_by_it_says_how_old_it_was_to_whoever_asks_and_to_nobody_else(shed):
    cold_front(shed).until("21:00")
    assert Air.OUTDOORS is told(shed).forecast.air
    why, text, facts, said = looked(shed)
    (raised,) = [one for one in why["evidence"] if one["event"] == "raised"]
    assert 0 <= raised["outdoors_age_h"] <= 3
    assert "; by an outdoor forecast " in text
    order = shed.order("mat on")
    assert any(one.startswith("The outdoor forecast was ") for one in order.more)
    (zone,) = facts["zones"]
    assert ("used", True) == (zone["outdoors"], 0 <= zone["outdoors_age_h"] <= 3)
    assert any(one.startswith("The outdoor forecast was ") for one in zone["sentences"])
    assert "old when this was told." in said
    notices = "\n".join(line for n in shed.notices() for line in (n.title, *n.lines))
    assert "switch long-mat on" in notices
    assert "outdoor" not in notices
    at_home = expecting.sentence(shed.rules.bins["fig"], {"west": zone}, Saying(shed.rules, shed.at))
    assert "outdoor" not in at_home


def test_one_that_is_lost_is_told_in_the_notice_too_with_what_stands_in_its_place(shed):
    shed.lost = True
    shed.live(26)
    cold_front(shed).until("21:00")
    assert Air.ALIKE is told(shed).forecast.air
    why, text, facts, said = looked(shed)
    (raised,) = [one for one in why["evidence"] if one["event"] == "raised"]
    assert raised["outdoors_age_h"] is None
    lost = "old, is too old, so it is told by the room's own history"
    assert lost in raised["arithmetic"]
    assert lost in text
    (zone,) = facts["zones"]
    assert "lost" == zone["outdoors"]
    assert zone["outdoors_age_h"] > 24
    assert lost in "\n".join(zone["sentences"])
    assert "too old by now, so nights are told by each room's own history" in said
    (notice,) = [n for n in shed.notices() if "switch long-mat on" in n.title and clock(n.at) == "21:00"]
    assert lost in "\n".join(notice.lines)
    at_home = expecting.sentence(shed.rules.bins["fig"], {"west": zone}, Saying(shed.rules, shed.at))
    assert at_home.endswith("The outdoor forecast is lost, so it is told by the room's own history.")


def test_one_that_reaches_too_short_is_lost_though_it_is_young(shed):
    hours = [(shed.at // HOUR * HOUR + n * HOUR, 5.0) for n in range(12)]
    shed.lost = True
    keep(shed.store, hours, shed.at)
    shed.live(1.25)
    (zone,) = forecast_facts(shed.store, shed.rules, shed.at)["zones"]
    assert "lost" == zone["outdoors"]
    assert (
        "does not hold all of the next 24 hours, so it is told by the room's own history." in zone["sentences"][-1]
    )
