"""The page of the week of a running daemon in a real browser: every look, the weeks before, and the facts' own numbers."""

import re
import time
import urllib.error
import urllib.request
from datetime import date, timedelta

import httpx2 as httpx
import pytest

from monitor import words
from monitor.notify.weekly import week_before
from monitor.reports.week import week_facts
from monitor.settings import load
from monitor.web.pages import week
from parts.asking_pages import posted
from parts.browser import LOOKS, sheet
from parts.bygone import lived
from parts.paged import BINS, ENVIRON, paged

TZ = "Europe/Lisbon"
BANDS = ("Below comfort", "In comfort", "Above comfort")
OFTEN = BINS.replace("every: 1 min", "every: 5 min")


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paged")
    lived(folder / "kept.db", int(time.time() * 1000), days=21)
    with paged(folder, bins=OFTEN) as one:
        yield one


def now():
    return int(time.time() * 1000)


def facts(house, first=None):
    with house.kept() as store:
        return week_facts(store, load([house.settings], environ=ENVIRON).rules, now(), first=first)


def read(one):
    return one.inner_text().replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("look", LOOKS)
def test_the_page_is_fine_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/week")
        assert "The back yard: the week of" in page.get_by_role("heading", level=1).inner_text()
        assert {"Fig tub", "Plum trays"} <= set(page.get_by_role("heading", level=2).all_inner_texts())
        assert 2 == page.locator("svg.chart[role=img]:visible").count()
        one.is_fine(script=look != "without-script")


def test_it_says_what_the_facts_say(browser, house):
    told = facts(house)
    with sheet(browser, house.address) as one:
        page = one.open("/week")
        text = read(page.locator("main"))
        assert told["sentence"] in text
        for bed in told["bins"]:
            assert bed["sentence"] in text
            assert all(line in text for line in bed["look_at"])
            table = page.get_by_role("region", name=f"Hours of {bed['name']}")
            rows = {read(row.locator("th")): row for row in table.locator("tbody tr").all()}
            said = {name: [read(cell) for cell in row.locator("td").all()] for name, row in rows.items()}
            assert [f"{zone['silent']:.1f} h" for zone in bed["zones"]] == said["Silent"]
            for n, zone in enumerate(bed["zones"]):
                mine, band = [said[name][n] for name in BANDS], zone["comfort"]
                if band is None:
                    assert ["not judged"] * 3 == mine
                    continue
                assert [f"{band[side]:.1f} h" for side in ("below", "inside", "above")] == mine
                known = sum(float(cell.split()[0]) for cell in (*mine, said["Silent"][n]))
                assert told["hours"] == pytest.approx(known, abs=0.21), zone
        assert any(zone["comfort"] and zone["known"] for bed in told["bins"] for zone in bed["zones"])
        assert all(mat["sentence"] in text for mat in told["mats"])


def test_it_is_written_once_for_all_who_read_it_and_anew_when_somebody_did_something(house, monkeypatch):
    written = []
    monkeypatch.setattr(week, "week_facts", lambda *a, **k: written.append(1) or week_facts(*a, **k))
    first = week_before(now(), TZ) - timedelta(days=7)
    with httpx.Client(base_url=house.address, timeout=60) as client:
        for _ in range(4):
            client.get(f"/week?from={first}").raise_for_status()
        assert len(written) <= 2, "twice where an hour begins meanwhile"
        before = len(written)
        assert (
            303
            == posted(
                client, "/diary", of="/diary/new?about=plum&did=looked", about="plum", did="looked"
            ).status_code
        )
        client.get(f"/week?from={first}").raise_for_status()
        assert before < len(written)


@pytest.mark.parametrize("look", ["desk", "phone"])
def test_the_weeks_before_are_walked_by_links(browser, house, look):
    newest = week_before(now(), TZ)
    with sheet(browser, house.address, look) as one:
        page = one.open("/week")
        page.get_by_role("navigation", name="Pages").get_by_role("link", name="Week").click()
        page.get_by_role("link", name="The week before").click()
        page.wait_for_url(f"**/week?from={newest - timedelta(days=7)}")
        one.is_fine()
        page.get_by_role("link", name="The week before").click()
        page.wait_for_url(f"**/week?from={newest - timedelta(days=14)}")
        assert words.week_days(newest - timedelta(days=14)) in read(page.get_by_role("heading", level=1))
        page.get_by_role("link", name="The newest whole week").click()
        page.wait_for_url("**/week")
        page.get_by_role("link", name="The week after").click()
        page.wait_for_url(f"**/week?from={newest + timedelta(days=7)}")
        assert "so far" in read(page.get_by_role("heading", level=1))
        assert "is not over" in read(page.locator("main"))
        assert 0 == page.get_by_role("link", name="The week after").count()
        one.is_fine()


def test_a_week_before_anything_was_heard_says_so(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/week?from=2020-01-08")
        assert "6 to 12 January 2020" in read(page.get_by_role("heading", level=1))
        assert 2 == read(page.locator("main")).count("Nothing was heard of it in this week.")
        one.is_fine()


@pytest.mark.parametrize(("first", "hours"), [(date(2026, 3, 23), 167), (date(2026, 10, 19), 169)])
def test_a_week_in_which_the_clocks_change_says_its_hours(browser, house, first, hours):
    with sheet(browser, house.address) as one:
        page = one.open(f"/week?from={first}")
        assert re.search(rf"The clocks went \w+ in it: it has {hours} hours\.", read(page.locator("main")))


@pytest.mark.parametrize("asked", ["soon", "2026-13-01", "1066-10-14", "9999-12-31", "%3Cscript%3E"])
def test_what_is_no_day_is_refused_in_words(house, asked):
    with pytest.raises(urllib.error.HTTPError) as error:
        urllib.request.urlopen(f"{house.address}/week?from={asked}", timeout=60)
    assert 400 == error.value.code
    assert "day" in error.value.read().decode()
