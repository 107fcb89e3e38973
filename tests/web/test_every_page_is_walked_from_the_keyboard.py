"""Nothing but the keyboard: every page is reached, every road on it is gone, and whoever goes there sees where they are."""

import pytest

from parts.browser import reached, sheet
from parts.paged import ENVIRON, paged

PAGES = (
    "/",
    "/week",
    "/diary",
    "/limits",
    "/limits/try",
    "/probes",
    "/probes/fig-near/ice",
    "/bins/fig",
    "/bins/fig/care",
)
STOPS = """(() => {
    const a = document.activeElement, box = a.getBoundingClientRect(), style = getComputedStyle(a);
    return {what: a.tagName + " " + (a.id || a.textContent.trim().slice(0, 40)), end: a === document.body,
            seen: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 && box.width > 1 && box.height > 1};
})()"""
KINDS = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']"
REACHABLE = f"""[...document.querySelectorAll("{KINDS}")]
    .filter(e => e.checkVisibility() && !(e.type === "radio" && !e.checked))
    .map(e => e.tagName + " " + e.textContent.trim().slice(0, 40))"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch, paged(tmp_path_factory.mktemp("keys")) as house:
        for name, value in ENVIRON.items():
            patch.setenv(name, value)
        house.say("probes/fig-near", "10.5")
        house.say("probes/fig-far", "9.8")
        house.say("probes/plum-bed", "18.0")
        house.until(lambda store: store.load().alarms and store.load().advice, "an alarm and its advice")
        yield house


@pytest.mark.parametrize("path", [*PAGES, "/alarms/{alarm}"])
def test_every_stop_is_seen_and_none_is_left_out(browser, yard, path):
    with yard.kept() as store:
        path = path.format(alarm=store.load().alarms[0].number)
    with sheet(browser, yard.address) as one:
        page = one.open(path)
        there, found = page.evaluate(REACHABLE), []
        expected = len(there)
        for _ in range(expected + 1):
            page.keyboard.press("Tab")
            found.append(page.evaluate(STOPS))
        assert expected > 5
        assert [] == [stop["what"] for stop in found[:expected] if stop["end"] or not stop["seen"]], "; ".join(
            there
        )
        assert found[expected]["end"] or found[expected]["what"] == found[0]["what"], (
            "there are stops nobody counted"
        )


def test_a_stop_that_nobody_sees_would_be_found(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/limits")
        page.evaluate("document.querySelector('nav a').style.outline = 'none'")
        reached(page, "Now")
        assert not page.evaluate(STOPS)["seen"]


@pytest.mark.parametrize(
    ("path", "name", "shown"), [("/probes", "plum-bed", "17.{} °C"), ("/", "Plum trays", "bed 17.{} °C")]
)
def test_who_stands_on_a_link_stays_there_when_the_page_renews_itself(browser, yard, path, name, shown):
    with sheet(browser, yard.address) as one:
        page = one.open(path)
        reached(page, name)
        tenth = 1 if path == "/" else 2
        yard.say("probes/plum-bed", f"17.{tenth}")
        page.get_by_text(shown.format(tenth)).first.wait_for(timeout=30_000)
        assert name == page.evaluate("document.activeElement.textContent")
        one.is_fine()


def test_a_limit_is_tried_from_the_page_of_limits(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/")
        reached(page, "Limits")
        page.keyboard.press("Enter")
        page.wait_for_url("**/limits")
        reached(page, "To change it: Fig tub, Temperature")
        page.keyboard.press("Enter")
        assert page.locator(".paste").first.is_visible()
        page = one.open("/limits")
        reached(page, "Try others on the days behind you: Fig tub")
        page.keyboard.press("Enter")
        page.wait_for_url("**/limits/try?of=fig")
        reached(page, "Comfort band")
        page.keyboard.press("ControlOrMeta+a")
        page.keyboard.type("18..29 °C")
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="fig.temperature.comfort=18..29").wait_for(timeout=60_000)
        reached(page, "Accept: write it")
        one.is_fine()


def test_a_thermometer_goes_into_the_ice_and_out(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/probes")
        for name, leads in (("fig-near", "fig-near"), ("Melting ice", "ice")):
            reached(page, name)
            page.keyboard.press("Enter")
            page.wait_for_url(f"**/{leads}")
        reached(page, "It hangs in the ice now")
        page.keyboard.press("Enter")
        page.get_by_text("In the ice since").wait_for(timeout=30_000)
        reached(page, "It is out of the ice")
        page.keyboard.press("Enter")
        page.get_by_text("Nothing yet.").wait_for(timeout=30_000)


def test_the_week_before_and_food_and_water_are_reached(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/week")
        reached(page, "The week before")
        page.keyboard.press("Enter")
        page.wait_for_url("**/week?from=*")
        page = one.open("/bins/fig")
        reached(page, "Food and water, and how that is known")
        page.keyboard.press("Enter")
        page.wait_for_url("**/bins/fig/care")
        reached(page, "Its days as a picture")
        page.keyboard.press("Enter")
        page.wait_for_url("**/bins/fig")


def test_the_first_stop_leads_past_the_head(browser, yard):
    with sheet(browser, yard.address) as one:
        page = one.open("/limits")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        assert "main" == page.evaluate("document.activeElement.id")


@pytest.mark.parametrize("path", PAGES)
def test_nothing_moves_by_itself(browser, yard, path):
    with sheet(browser, yard.address, "reduced") as one:
        assert 0 == one.open(path).evaluate("document.getAnimations().length")


def test_on_the_narrowest_phone_the_places_stand_on_one_line_and_no_word_is_broken(browser, yard):
    lines = "new Set([...document.querySelectorAll('header nav a')].map(a => a.offsetTop)).size"
    broken = """[...document.querySelectorAll("th")].filter(t => {
        const range = document.createRange(); range.selectNodeContents(t);
        return range.getClientRects().length > t.textContent.trim().split(/\\s+/).length; }).map(t => t.textContent)"""
    with sheet(browser, yard.address, "phone") as one:
        for path in PAGES:
            page = one.open(path)
            assert 1 == page.evaluate(lines), path
            assert [] == page.evaluate(broken), path
