"""The hours ahead on the page of a running daemon: a sentence under each bin, a fan behind now, and the same as a table."""

import math
import re
import time

import pytest

from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.reports.expecting import told_of
from monitor.reports.foreseen import forecast_facts
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.browser import LOOKS, sheet
from parts.paged import BINS, paged
from parts.road import until

AIRED = BINS.replace(
    "  shed: {name: Shed}\n",
    "  shed: {name: Shed, probes: {shed-air: {measures: temperature, topic: probes/shed-air, every: 1 min}}}\n",
)
LOSES, ELSE = 0.05, 0.4
"""1/h and K/h: what the near end of the fig tub really does."""


def past(now):
    """Twenty days of a tub that follows its shed, every quarter of an hour."""
    warmth, found = 18.0, []
    for at in range(now - 20 * DAY, now - MINUTE, 15 * MINUTE):
        air = 11 + 4 * math.sin(2 * math.pi * at / DAY) + math.sin(at / HOUR / 31)
        warmth += 0.25 * (LOSES * (air - warmth) + ELSE)
        noise = ((at // MINUTE * 7919) % 13 - 6) / 100
        found += [
            Reading("shed-air", at, round(air, 2), at),
            Reading("fig-near", at, round(warmth + noise, 2), at),
        ]
    return found


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paged")
    store = SqliteStore(folder / "kept.db")
    store.keep(Batch(readings=past(int(time.time() * 1000))))
    store.close()
    with paged(folder, bins=AIRED) as one:
        until(lambda: facts(one)["near"]["may_alarm"], "the near end has learned", 120)
        yield one


def facts(house):
    now = int(time.time() * 1000)
    with house.kept() as store:
        zones = forecast_facts(store, house.rules, now, bed="fig")["zones"]
    return {zone["id"].removeprefix("fig."): zone for zone in zones}


def test_each_bin_says_how_cold_it_will_be(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/")
        said = page.locator("#bin-fig .ahead").inner_text().replace("\u00a0", " ")
        point = facts(house)["near"]["horizons"][0]["least_c"]["likely"]
        told = re.fullmatch(
            r"In the next 12 h down to ([\d.]+) °C \(([\d.]+) to ([\d.]+) °C\), .* below 15 °C.*", said
        )
        assert told, said
        assert pytest.approx(point, abs=0.3) == float(told[1])
        assert float(told[2]) <= float(told[1]) <= float(told[3])
        # Nothing measures the plum's hours, so nothing is said of them.
        assert 0 == page.locator("#bin-plum .ahead").count()


@pytest.mark.parametrize("look", LOOKS)
def test_the_picture_opens_into_a_fan_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/bins/fig?period=day")
        assert 1 == page.locator("svg.chart:visible .fan").count()
        assert page.get_by_role("heading", name="What is expected").is_visible()
        one.is_fine(script=look != "without-script")


def test_the_fan_and_the_table_hold_the_same_numbers_as_the_forecast(browser, house):
    with sheet(browser, house.address, "desk") as one:
        page = one.open("/bins/fig")
        rows = page.locator("table", has_text="Expected temperature").locator("tbody tr")
        fan = facts(house)["near"]["fan"]
        assert len(fan) == rows.count() == 24
        for n in (0, 11, 23):
            likely, low, high = (float(x) for x in re.findall(r"-?[\d.]+", rows.nth(n).locator("td").inner_text()))
            assert pytest.approx(sorted(fan[n]), abs=0.06) == [low, likely, high]


@pytest.mark.parametrize("address", ["/bins/fig?period=month", "/bins/fig?period=week&from=2026-01-05"])
def test_a_picture_that_does_not_show_now_expects_nothing(browser, house, address):
    with sheet(browser, house.address, "desk") as one:
        page = one.open(address)
        assert 0 == page.locator(".fan").count()
        assert 0 == page.get_by_role("heading", name="What is expected").count()


def test_of_a_bin_of_which_nothing_is_told_there_is_nothing(house):
    assert {} == told_of(house.rules.bins["fig"], [facts(house)["far"]])
