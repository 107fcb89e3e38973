"""Every kind of diary entry by thumb, in a real browser before a running daemon, read back from its store."""

from datetime import UTC, datetime

import pytest

from monitor.diary import Deed, in_force
from monitor.readings import HOUR, MINUTE
from monitor.reports.entering import LABELS, SQUEEZED
from parts.browser import LOOKS, axe, reached, sheet
from parts.paged import BINS, SITE, paged

TWO = BINS.replace("  ana: {channels: screen}\n", "  ana: {channels: screen}\n  ben: {channels: screen}\n")
WIDE = "document.documentElement.scrollWidth <= window.innerWidth"
UNPROCESSABLE = "422"
AMOUNT = {
    "fed": ("1,5", Deed.FED, 1.5, "kg"),
    "watered": ("2", Deed.WATERED, 2.0, "L"),
    "drained": ("1", Deed.DRAINED, 1.0, "L"),
    "bedding": ("3", Deed.BEDDING, 3.0, "kg"),
    "harvested": ("½", Deed.HARVESTED, 0.5, "kg"),
    "weighed": ("31.5", Deed.WEIGHED, 31.5, "kg"),
    "worms": ("500 g", Deed.WORMS_ADDED, 0.5, "kg"),
    "split": ("0.25", Deed.WORMS_TAKEN, 0.25, "kg"),
    "cover": (None, Deed.COVER, None, ""),
    "insulated": (None, Deed.INSULATED, None, ""),
    "moved": (None, Deed.MOVED, None, ""),
    "looked": (None, Deed.LOOKED, None, ""),
    "note": (None, Deed.NOTE, None, ""),
    SQUEEZED: (None, Deed.SQUEEZED, None, ""),
    "on": ("20", Deed.MAT_ON, 20.0, "W"),
    "off": (None, Deed.MAT_OFF, None, ""),
    "lifted": (None, Deed.PROBE_LIFTED, None, ""),
}
"""By the word of a button: what is typed as the amount, and what the store then holds."""
OF = {
    "on": ("fig-mat", "mat:fig-mat"),
    "off": ("fig-mat", "mat:fig-mat"),
    "lifted": ("fig-near", "probe:fig-near"),
}


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    with paged(tmp_path_factory.mktemp("diary")) as house:
        yield house


def kept(house, **like):
    with house.kept() as store:
        return [e for e in store.diary(1000) if all(getattr(e, name) == value for name, value in like.items())]


def newest(house):
    return max(kept(house), key=lambda entry: entry.number)


def open_every_more(page):
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")


def test_every_kind_is_tried():
    assert set(LABELS) == set(AMOUNT)


@pytest.mark.parametrize("word", AMOUNT)
def test_each_kind_is_written_by_a_button_and_a_confirmation(browser, yard, word):
    amount, deed, much, unit = AMOUNT[word]
    name, subject = OF.get(word, ("Fig tub", "bin:fig"))
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary")
        open_every_more(page)
        page.get_by_role("link", name=f"{name}: {LABELS[word]}", exact=True).tap()
        if amount:
            page.get_by_label("How much").fill(amount)
        if word == SQUEEZED:
            page.get_by_label("a ball that stays").check()
        if word == "note":
            page.get_by_label("What is to be kept").fill("first frost")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        entry = newest(yard)
        assert (deed, subject, much, unit, "ana") == (
            entry.deed,
            entry.subject,
            entry.amount,
            entry.unit,
            entry.who,
        )
        shown = page.locator(f"#entry-{entry.number}")
        assert shown.is_visible()
        assert str(deed) in shown.inner_text() or (deed is Deed.NOTE and "first frost" in shown.inner_text())
        assert "Written: " in page.get_by_role("status").inner_text()
        assert ([], []) == (one.complaints, one.strangers)


def test_two_taps_are_enough_and_the_second_is_on_the_screen_at_once(browser, yard):
    before = len(kept(yard))
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary")
        page.get_by_role("link", name="Plum trays: Fed", exact=True).tap()
        button = page.get_by_role("button", name="Write it down")
        box = button.bounding_box()
        assert 0 <= box["y"] and box["y"] + box["height"] <= 740 and box["height"] >= 44
        button.tap()
        page.wait_for_url("**/diary#entry-*")
        assert before + 1 == len(kept(yard))
        assert ("bin:plum", None) == (newest(yard).subject, newest(yard).amount)


@pytest.mark.parametrize("look", LOOKS)
def test_the_diary_is_fine_in_every_look(browser, yard, look):
    with sheet(browser, yard.address, look) as one:
        for path in ("/diary", "/diary/new?about=fig&did=fed"):
            page = one.open(path)
            if look != "without-script":
                open_every_more(page)
            one.is_fine(script=look != "without-script")


def test_on_the_phone_every_target_is_as_large_as_a_thumb(browser, yard):
    """44 px: WCAG 2.2, 2.5.5 [memory]; links inside a sentence are excepted there."""
    with sheet(browser, yard.address, "phone") as one:
        for path in ("/diary", "/diary/new?about=fig&did=fed"):
            page = one.open(path)
            open_every_more(page)
            found = page.evaluate(
                "[...document.querySelectorAll('main :is(button, a, summary, select, textarea, .choices label)')]"
                ".map(b => [b.innerText, b.getBoundingClientRect().height])"
            )
            assert len(found) > 8
            assert [] == [one for one in found if one[1] < 44]


def test_it_is_written_without_scripts(browser, yard):
    with sheet(browser, yard.address, "without-script") as one:
        page = one.open("/diary")
        page.get_by_role("link", name="Fig tub: Watered", exact=True).click()
        page.get_by_label("How much").fill("4")
        page.get_by_label("Fig tub far").check()
        page.get_by_role("button", name="Write it down").click()
        page.wait_for_url("**/diary#entry-*")
        entry = newest(yard)
        assert (Deed.WATERED, "zone:fig.far", 4.0) == (entry.deed, entry.subject, entry.amount)


def test_it_is_written_from_the_keyboard_alone(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/diary")
        reached(page, "Fig tub: Looked")
        page.keyboard.press("Enter")
        page.wait_for_url("**/diary/new**")
        reached(page, "Write it down")
        page.keyboard.press("Enter")
        page.wait_for_url("**/diary#entry-*")
        assert Deed.LOOKED is newest(yard).deed


def test_what_was_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(browser, yard):
    before = len(kept(yard))
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=fed")
        page.get_by_label("How much").fill("lots")
        page.get_by_label("In words").fill("peel & <b>cores</b>")
        page.get_by_label("Its own time").fill("2099-01-01T10:00")
        page.get_by_role("button", name="Write it down").tap()
        page.get_by_role("alert").wait_for()
        assert "Nothing has been written yet." in page.get_by_role("alert").inner_text()
        for field in ("amount", "own"):
            says = page.locator(f"#{field}").get_attribute("aria-describedby")
            assert page.locator(f"#{says}").inner_text().endswith(".")
            assert "true" == page.locator(f"#{field}").get_attribute("aria-invalid")
        assert "lots" == page.get_by_label("How much").input_value()
        assert "peel & <b>cores</b>" == page.get_by_label("In words").input_value()
        assert "2099-01-01T10:00" == page.get_by_label("Its own time").input_value()
        assert before == len(kept(yard))
        assert [] == axe(page)
        assert page.evaluate(WIDE)
        page.get_by_label("How much").fill("1")
        page.get_by_label("Its own time").fill("")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        assert (1.0, "peel & <b>cores</b>") == (newest(yard).amount, newest(yard).text)
        assert all(UNPROCESSABLE in one for one in one.complaints)


def test_when_it_really_was_can_be_an_hour_ago_or_a_time_of_its_own(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=looked")
        page.get_by_label("an hour ago").check()
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        ago = newest(yard)
        assert abs(ago.written_at - HOUR - ago.at) < MINUTE
        page = one.open("/diary/new?about=fig&did=looked")
        page.get_by_label("Its own time").fill("2026-01-03T18:00")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        assert datetime(2026, 1, 3, 18, tzinfo=UTC).timestamp() * 1000 == newest(yard).at


def test_an_entry_is_put_right_by_a_new_one_and_stays_struck_out(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=fed")
        page.get_by_label("How much").fill("15")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        wrong = newest(yard)
        page.locator(f"#entry-{wrong.number}").get_by_role("link", name="Correct").tap()
        page.wait_for_url(f"**/diary/{wrong.number}")
        assert "15" == page.get_by_label("How much").input_value()
        one.is_fine()
        page.get_by_label("How much").fill("1.5")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        right = newest(yard)
        assert (1.5, wrong.number) == (right.amount, right.corrects)
        assert abs(right.at - wrong.at) < MINUTE
        assert f"corrected by entry {right.number}" in page.locator(f"#entry-{wrong.number}").inner_text()
        assert 0 == page.locator(f"#entry-{wrong.number}").get_by_role("link", name="Correct").count()


def test_an_entry_can_have_been_something_else_or_nothing(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=squeezed")
        page.get_by_label("makes no ball").check()
        one.is_fine()
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        first = newest(yard)
        page.goto(f"{yard.address}/diary/{first.number}")
        page.get_by_role("link", name="It was something else").tap()
        page.get_by_role("heading", name="What was it instead?").wait_for()
        one.is_fine()
        page.get_by_role("link", name="Plum trays: Watered", exact=True).tap()
        page.get_by_label("How much").fill("2")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        second = newest(yard)
        assert (Deed.WATERED, "bin:plum", first.number) == (second.deed, second.subject, second.corrects)
        with yard.kept() as store:
            assert not [key for kind, key in store.load().standing if kind == "squeeze" and first.subject == key]
        page.goto(f"{yard.address}/diary/{second.number}")
        page.get_by_role("button", name="It was not so at all").tap()
        page.wait_for_url("**/diary#entry-*")
        third = newest(yard)
        assert ("taken back: it was not so", second.number) == (third.text, third.corrects)
        assert not {first.number, second.number} & {e.number for e in in_force(kept(yard), third.written_at)}


def test_work_in_a_bin_is_begun_and_ended(browser, yard):
    with sheet(browser, yard.address, "phone") as one:
        page = one.open("/diary")
        page.get_by_text("I am going to work in one").tap()
        page.get_by_label("In which").select_option("fig")
        page.get_by_role("button", name="I work there now").tap()
        page.get_by_role("status").wait_for()
        assert "Unplug the mat" in page.get_by_role("status").inner_text()
        yard.until(lambda store: [e for e in store.diary(100) if e.deed is Deed.WORKING], "the work")
        page = one.open("/diary")
        page.get_by_role("button", name="Done there").tap()
        page.get_by_role("status").wait_for()
        yard.until(lambda store: [e for e in store.diary(100) if e.deed is Deed.WORKED], "the end of the work")


def test_nothing_is_offered_that_cannot_be_written(browser, yard):
    with sheet(browser, yard.address) as one:
        for path in ("/diary/new?about=fig&did=on", "/diary/new", "/diary/999999"):
            assert 404 == one.page.goto(yard.address + path).status


def test_who_it_was_is_asked_where_there_is_doubt_and_remembered(browser, tmp_path):
    with paged(tmp_path, bins=TWO) as house, sheet(browser, house.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=looked")
        page.get_by_role("button", name="Write it down").tap()
        page.get_by_role("alert").wait_for()
        assert "Choose who did it." == page.locator("#wrong-who").inner_text()
        page.get_by_label("Who did it").select_option("ben")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        assert "ben" == newest(house).who
        one.open("/diary/new?about=fig&did=looked")
        assert "ben" == page.get_by_label("Who did it").input_value()


def test_gallons_and_pounds_are_written_where_the_site_is_in_them(browser, tmp_path):
    us = SITE.replace("timezone:", "units: us, timezone:")
    with paged(tmp_path, site=us) as house, sheet(browser, house.address, "phone") as one:
        page = one.open("/diary/new?about=fig&did=watered")
        assert "gal" in page.locator(".pair").inner_text()
        page.get_by_label("How much").fill("½")
        page.get_by_role("button", name="Write it down").tap()
        page.wait_for_url("**/diary#entry-*")
        # 1 US gallon = 3.785411784 L (NIST SP 811, appendix B [memory])
        assert newest(house).amount == pytest.approx(3.785411784 / 2)
        assert "0.5 gal" in page.locator(f"#entry-{newest(house).number}").inner_text()
