"""Food and water of a bin on its own page, in every look, before a running daemon."""

import pytest

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


def test_of_a_bin_that_is_not_there_nothing_is_told(browser, house):
    with sheet(browser, house.address) as one:
        assert 404 == one.page.goto(house.address + "/bins/nowhere/care").status


def test_from_the_limits_others_can_be_tried(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/limits")
        page.locator("a[href='/limits/try?of=plum']").click()
        page.wait_for_url("**/limits/try?of=plum")
        assert "Plum trays" in page.get_by_role("heading", level=2).first.inner_text()
