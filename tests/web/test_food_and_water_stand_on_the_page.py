"""Food and water of a bin on its own page, in every look, before a running daemon."""

import httpx2 as httpx
import pytest

from monitor.reports.caring import care_facts
from monitor.web.pages import caring
from parts.asking_pages import posted
from parts.browser import LOOKS, sheet


@pytest.mark.parametrize("look", LOOKS)
def test_food_and_water_are_told_with_what_is_not_known(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/bins/plum")
        page.get_by_role("link", name="Food and water").click()
        page.wait_for_url("**/bins/plum/care")
        text = page.locator("main").inner_text()
        assert "Look under the cover when you pass" in text
        assert "the diary does not say when it was fed" in text
        one.is_fine(script=look != "without-script")


def test_it_is_reckoned_once_for_all_who_read_it_and_anew_when_it_was_fed(house, monkeypatch):
    reckoned = []
    monkeypatch.setattr(caring, "care_facts", lambda *a, **k: reckoned.append(1) or care_facts(*a, **k))
    with httpx.Client(base_url=house.address, timeout=60) as client:
        for _ in range(4):
            assert "the diary does not say when it was fed" in client.get("/bins/fig/care").text
        assert len(reckoned) <= 2, "twice where five minutes begin meanwhile"
        fed = {"about": "fig", "did": "fed", "amount": "1", "unit": "kg"}
        assert 303 == posted(client, "/diary", of="/diary/new?about=fig&did=fed", **fed).status_code
        assert "the diary does not say when it was fed" not in client.get("/bins/fig/care").text


def test_of_a_bin_that_is_not_there_nothing_is_told(browser, house):
    with sheet(browser, house.address) as one:
        assert 404 == one.page.goto(house.address + "/bins/nowhere/care").status


def test_from_the_limits_others_can_be_tried(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/limits")
        page.locator("a[href='/limits/try?of=plum']").click()
        page.wait_for_url("**/limits/try?of=plum")
        assert "Plum trays" in page.get_by_role("heading", level=2).first.inner_text()
