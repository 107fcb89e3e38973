"""A limit is lowered on the phone after seeing what it would have done, in a real browser before a running daemon."""

import re

import pytest

from parts.browser import LOOKS, sheet
from parts.paged import ENVIRON, paged


@pytest.fixture
def cool(tmp_path, monkeypatch):
    """The fig tub below its comfort, without harm; the plums are well. Settings are read anew by the machine's environment."""
    for name, value in ENVIRON.items():
        monkeypatch.setenv(name, value)
    with paged(tmp_path) as house:
        house.say("probes/fig-near", "20.2")
        house.say("probes/fig-far", "20.0")
        house.say("probes/plum-bed", "18.0")
        house.until(lambda store: store.rounds(1) and store.window("plum-bed", 0, 2**53), "something was heard")
        yield house


def field(page, label, group=0):
    return page.locator(".trial", has=page.get_by_label(label, exact=True)).nth(group)


@pytest.mark.parametrize("look", LOOKS)
def test_every_limit_of_a_bin_stands_there_with_its_value_in_every_look(browser, house, look):
    with sheet(browser, house.address, look) as one:
        page = one.open("/limits/try")
        assert "21..29 °C" == field(page, "Comfort band").get_by_role("textbox").input_value()
        assert "15 °C" == field(page, "Harm below, lasting 4 h").get_by_role("textbox").input_value()
        page.get_by_role("link", name="Plum trays").click()
        assert "Plum trays" in page.locator("main").inner_text()
        assert "10..28 °C" == field(page, "Comfort band").get_by_role("textbox").input_value()
        one.is_fine(script=look != "without-script")


@pytest.mark.parametrize("look", ["phone", "without-script"])
def test_a_limit_is_lowered_after_seeing_what_it_would_have_done(browser, cool, look):
    before = cool.settings.read_text()
    with sheet(browser, cool.address, look) as one:
        page = one.open("/limits/try?of=fig")
        band = field(page, "Comfort band")
        band.get_by_role("textbox").fill("18..29 °C")
        band.get_by_role("combobox").select_option("90 days")
        band.get_by_role("button").click()
        page.get_by_role("heading", name="fig.temperature.comfort=18..29").wait_for()
        assert "90" == field(page, "Comfort band").get_by_role("combobox").input_value(), "as it was asked for"
        assert "in force" in page.get_by_role("table").inner_text()
        assert "limits: {temperature: {comfort: 18..29 °C}}" in page.locator("pre").inner_text()
        # What was measured, with both bands and a row for each kind of episode, named in words.
        drawn = page.get_by_role("img", name=re.compile("Fig tub: ")).locator("text").all_text_contents()
        assert {"comfort", "tried: comfort from 18 °C", "only now", "by both", "only tried"} <= set(drawn)
        assert before == cool.settings.read_text(), "nothing changes before it is accepted"
        one.is_fine(script=look != "without-script")
        page.get_by_label("Why, in a few words").fill("the mat runs all night")
        page.get_by_role("button", name="Accept").click()
        page.get_by_text("The earlier file is kept as").wait_for(timeout=60_000)
        cool.until(lambda store: len(store.taken_up()) == 2, "the new settings are in force")
        page.reload()
        assert "18..29 °C" == field(page, "Comfort band").get_by_role("textbox").input_value()
    line = "    limits: {temperature: {comfort: 18..29 °C}}\n"
    assert before == cool.settings.read_text().replace(line, "", 1) != cool.settings.read_text()
    with cool.kept() as store:
        taken = store.taken_up()[-1]
        assert ("ana", "the mat runs all night") == (taken.who, taken.why)
        assert ["fig"] == [a.bin for a in taken.amendments if a.limit == "comfort from" and not a.zone]
    (kept,) = [one for one in cool.folder.iterdir() if ".before-" in one.name]
    assert before == kept.read_text()


def test_what_cannot_be_is_said_beside_what_was_typed(browser, house):
    with sheet(browser, house.address, "phone") as one:
        page = one.open("/limits/try?of=fig")
        band = field(page, "Comfort band")
        band.get_by_role("textbox").fill("29..18 °C")
        band.get_by_role("button").click()
        page.get_by_role("alert").wait_for()
        assert "low is not below high" in page.get_by_role("alert").inner_text()
        assert "29..18 °C" == field(page, "Comfort band").get_by_role("textbox").input_value()


def test_what_was_tried_on_other_settings_is_not_accepted(browser, house):
    with sheet(browser, house.address) as one:
        page = one.open("/limits/try?limit=plum.temperature.deadband&value=1.5+°C")
        before = house.settings.read_text()
        page.evaluate("document.querySelector('[name=digest]').value = 'another'")
        # The whole answer is waited for: a browser that is closed while it changes pages may hang.
        with page.expect_navigation() as answer:
            page.get_by_role("button", name="Accept").click()
        assert 409 == answer.value.status
        assert "The settings have changed since this was tried." in page.locator("main").inner_text()
        assert before == house.settings.read_text()
