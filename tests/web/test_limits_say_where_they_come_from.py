"""The sheet of limits in a real browser."""

import pytest

from parts.browser import LOOKS, sheet
from parts.paged import BINS, SITE, paged


@pytest.mark.parametrize("look", LOOKS)
def test_each_limit_stands_there_with_whose_it_is_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/limits")
        text = page.locator("#limits-fig").inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert "Comfort begins at 21 °C; below it is told after 1 h." in text
        assert "The species: trade practice (70 °F) [common practice]." in text
        if look != "without-script":
            page.get_by_text("To change it").first.click()
            assert "comfort: 21..29 °C" in page.locator(".paste").first.inner_text()
        one.is_fine(script=look != "without-script")


def test_an_own_limit_is_shown_in_the_sites_units_with_its_file_and_line(browser, tmp_path):
    own = BINS.replace("    worms: 2 kg\n", "    worms: 2 kg\n    limits: {temperature: {comfort: 60..75 °F}}\n")
    us = SITE.replace("timezone:", "units: us, timezone:")
    with paged(tmp_path, bins=own, site=us) as one, sheet(browser, one.address, "phone") as seen:
        text = seen.open("/limits").locator("#limits-plum").inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert "Comfort begins at 60 °F" in text
        assert "The bin: your own number, in settings.yaml:" in text
