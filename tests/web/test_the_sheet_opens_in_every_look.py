import pytest

from parts.browser import LOOKS, axe, sheet


@pytest.mark.parametrize("look", LOOKS)
def test_the_sheet_is_fine_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/")
        assert "What needs doing" == page.get_by_role("heading", level=1).inner_text()
        assert page.get_by_text("Fig tub").count() >= 1
        one.is_fine(script=look != "without-script")


def test_axe_looks(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/")
        page.evaluate("document.querySelector('main').innerHTML = '<img src=\"data:,\"><input>'")
        assert {"image-alt", "label"} <= {rule for rule, _ in axe(page)}
