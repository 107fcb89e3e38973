"""From a cold probe to the diary, in a real browser before a running daemon with a real broker."""

import re

import httpx2 as httpx
import pytest

from parts.asking_pages import posted
from parts.browser import LOOKS, reached, sheet
from parts.paged import BINS, paged

TWO = BINS.replace("  ana: {channels: screen}\n", "  ana: {channels: screen}\n  ben: {channels: screen}\n")


def chill(house):
    """Both zones of the fig tub at once harmful; the plums are well. The number of the alarm."""
    house.say("probes/fig-near", "10.5")
    house.say("probes/fig-far", "9.8")
    house.say("probes/plum-bed", "18.0")
    house.until(lambda store: store.load().alarms and store.load().advice, "an alarm and its advice")
    with house.kept() as store:
        return store.load().alarms[0].number


@pytest.fixture(scope="module")
def cold(tmp_path_factory):
    with paged(tmp_path_factory.mktemp("cold")) as house:
        house.alarm = chill(house)
        yield house


@pytest.mark.parametrize("look", LOOKS)
def test_the_most_urgent_comes_first_with_its_buttons_in_every_look(browser, cold, look):
    with sheet(browser, cold.address, look) as one:
        page = one.open("/")
        card = page.locator(".order").first
        assert "Fig tub" in card.get_by_role("heading").inner_text()
        assert "10.5" in card.inner_text() and "Unplug" in card.inner_text()
        assert ["Seen", "Done", "Later", "Why?"] == [
            text.split()[0].rstrip(":") for text in card.locator("button, a.button").all_inner_texts()
        ]
        one.is_fine(script=look != "without-script")


def test_no_meaning_is_in_colour_alone(browser, cold):
    with sheet(browser, cold.address) as one:
        one.open("/")
        assert "Urgent" == one.page.get_by_role("heading", level=2).first.inner_text()


def test_on_the_phone_every_button_is_as_large_as_a_thumb(browser, cold):
    """44 px: WCAG 2.2, 2.5.5 [memory]."""
    with sheet(browser, cold.address, "phone") as one:
        page = one.open("/")
        boxes = page.evaluate(
            "[...document.querySelectorAll('button, a.button, summary, nav a')].map(b => b.getBoundingClientRect())"
            ".map(r => [r.width, r.height])"
        )
        assert len(boxes) >= 6 and all(min(box) >= 44 for box in boxes), boxes


@pytest.mark.parametrize("look", LOOKS)
def test_why_shows_readings_limit_source_arithmetic_and_cautions(browser, cold, look):
    with sheet(browser, cold.address, look) as one:
        page = one.open("/")
        page.locator(".order").first.get_by_role("link", name="Why?").click()
        page.wait_for_url(f"**/alarms/{cold.alarm}")
        text = page.locator("main").inner_text().replace("\N{NO-BREAK SPACE}", " ")
        assert "The limit of 12 °C comes from" in text
        assert re.search(r"Reckoned: .*10\.5 °C.* 12 °C", text), text
        assert "fig-near" in page.get_by_role("table").inner_text()
        assert "30 mA residual-current device" in text
        assert "ana, of “raised”: told" in text
        one.is_fine(script=look != "without-script")


def test_a_number_that_no_alarm_had_is_said_in_words(browser, cold):
    with sheet(browser, cold.address) as one:
        answer = one.page.goto(cold.address + "/alarms/4711")
        assert 404 == answer.status
        assert "No alarm has had the number 4711" in one.page.locator("main").inner_text()


def test_the_page_is_live_and_keeps_what_somebody_points_at(tmp_path, browser):
    with paged(tmp_path) as house, sheet(browser, house.address) as one:
        page = one.open("/")
        page.evaluate("window.same = true")
        assert 0 == page.locator(".order.urgent").count()
        number = chill(house)
        page.locator(".order.urgent").wait_for(timeout=30_000)
        page.locator(f"#done-{number}").focus()
        house.say("probes/fig-near", "10.3")
        page.get_by_text("near 10.3").wait_for(timeout=30_000)
        assert f"done-{number}" == page.evaluate("document.activeElement.id")
        assert page.evaluate("window.same"), "the page was loaded anew"
        one.is_fine()


def test_when_all_is_well_it_says_so(tmp_path, browser):
    with paged(tmp_path) as house, sheet(browser, house.address) as one:
        house.say("probes/fig-near", "24.5")
        house.say("probes/fig-far", "24.0")
        house.say("probes/plum-bed", "18.0")
        page = one.open("/")
        page.get_by_text("24.0 to 24.5").wait_for(timeout=30_000)
        assert "Nothing needs doing." == page.locator(".well").inner_text()
        one.is_fine()


@pytest.mark.parametrize("look", ["phone", "without-script"])
def test_seen_later_and_taken_up_again(tmp_path, browser, look):
    with paged(tmp_path) as house, sheet(browser, house.address, look) as one:
        number = chill(house)
        page = one.open("/")
        page.locator(f"#seen-{number}").click()
        said = page.get_by_role("status").inner_text()
        assert said.startswith("Fig tub: too cold, harm is seen, says ana. The alarm stands until")
        assert "ana saw it" in page.locator(".order").inner_text()
        assert 0 == page.locator(f"#seen-{number}").count()
        with house.kept() as store:
            assert "acknowledged" == store.heard_of(number).state
        page.locator(f"#later-{number}").click()
        assert "is put off until" in page.get_by_role("status").inner_text()
        assert "Put aside for now" in [h.inner_text() for h in page.get_by_role("heading", level=2).all()]
        assert "Nothing else needs doing." == page.locator(".well").inner_text()
        with house.kept() as store:
            assert "ana" == store.heard_of(number).shelf.who
        page.locator(f"#unshelve-{number}").click()
        assert page.locator(f"#later-{number}").is_visible()
        page.reload()
        assert 0 == page.get_by_role("status").count(), "what was said is said once"
        one.is_fine(script=look != "without-script")


def test_done_from_the_keyboard_alone(tmp_path, browser):
    with paged(tmp_path) as house, sheet(browser, house.address) as one:
        number = chill(house)
        page = one.open("/")
        reached(page, f"done-{number}")
        page.keyboard.press("Enter")
        page.get_by_role("status").wait_for(timeout=30_000)
        with house.kept() as store:
            (entry,) = store.diary()
            assert ("done", "ana", number) == (str(entry.deed), entry.who, entry.alarm)
        one.is_fine()


def test_a_few_words_and_a_length_go_along(tmp_path, browser):
    with paged(tmp_path) as house, sheet(browser, house.address, "phone") as one:
        number = chill(house)
        page = one.open(f"/alarms/{number}")
        page.get_by_label("A few words").fill("cover was off <b>")
        page.get_by_role("combobox").select_option("1")
        page.get_by_role("button", name="Later").click()
        page.wait_for_url(f"**/alarms/{number}")
        with house.kept() as store:
            shelf = store.heard_of(number).shelf
            assert (3_600_000, "cover was off <b>") == (shelf.until - shelf.since, shelf.note)
        assert "“cover was off <b>”" in page.locator("main").inner_text()
        page.get_by_label("A few words").fill("closed it")
        page.get_by_role("button", name="Done").click()
        page.get_by_role("status").wait_for(timeout=30_000)
        with house.kept() as store:
            assert "closed it" == store.diary()[-1].text
        one.is_fine()


@pytest.mark.parametrize(("look", "word"), [("phone", "Needless"), ("without-script", "Useful")])
def test_a_notice_is_called_useful_or_needless_where_it_is_told_who_was(browser, cold, look, word):
    with sheet(browser, cold.address, look) as one:
        page = one.open(f"/alarms/{cold.alarm}")
        form = page.locator("#verdict")
        form.get_by_label("Because").fill("it was the door <b>")
        form.get_by_role("button", name=word).click()
        page.wait_for_url(f"**/alarms/{cold.alarm}")
        assert f"is called {word.lower()} by ana: Fig tub" in page.get_by_role("status").inner_text()
        assert f"Called {word.lower()} by ana." in page.locator("#verdict").inner_text()
        assert f"cold, {word.lower()}" not in page.locator("#verdict").inner_text()
        with cold.kept() as store:
            (said,) = [e for e in store.diary() if str(e.deed) == word.lower()]
            (notice,) = {p.notice.number for p in store.notices() if cold.alarm in p.notice.alarms}
        assert ("ana", cold.alarm, f"cold: notice {notice}; it was the door <b>") == (
            said.who,
            said.alarm,
            said.text,
        )
        one.open("/limits")
        section = page.locator("#verdicts + ul").inner_text()
        assert re.search(r"Fig tub, cold: called needless [01] times?, useful [01] times?\.", section), section
        one.is_fine(script=look != "without-script")


def test_a_notice_is_called_needless_from_the_keyboard_alone(browser, cold):
    with sheet(browser, cold.address) as one:
        page = one.open(f"/alarms/{cold.alarm}")
        reached(page, "Needless")
        page.keyboard.press("Enter")
        page.get_by_role("status").wait_for(timeout=30_000)
        assert "is called needless by ana" in page.get_by_role("status").inner_text()


def test_what_no_notice_is_cannot_be_called_anything(cold):
    with httpx.Client(base_url=cold.address) as client:
        said = posted(client, "/answer", what="useful", notice="4711")
        assert 409 == said.status_code and "No notice has had the number 4711" in said.text
        for wrong in ("", "1;2", "1,2", "-1"):
            assert 400 == posted(client, "/answer", what="needless", notice=wrong).status_code


def test_of_several_people_one_says_once_who_it_is(tmp_path, browser):
    with paged(tmp_path, bins=TWO) as house, sheet(browser, house.address, "phone") as one:
        number = chill(house)
        page = one.open("/")
        page.locator(f"#seen-{number}").click()
        assert "Who are you?" == page.get_by_role("heading", level=1).inner_text()
        one.is_fine()
        page.get_by_role("button", name="ben").click()
        assert "says ben" in page.get_by_role("status").inner_text()
        page.locator(f"#later-{number}").click()
        assert "says ben" in page.get_by_role("status").inner_text()
        with house.kept() as store:
            assert "ben" == store.heard_of(number).shelf.who


def test_what_is_over_is_answered_with_a_sentence(cold):
    with httpx.Client(base_url=cold.address) as client:
        said = posted(client, "/answer", what="seen", alarms="4711")
        assert 409 == said.status_code and "over by now" in said.text
        for wrong in ({"what": "burn", "alarms": "1"}, {"what": "seen", "alarms": "1;2"}, {"what": "seen"}):
            assert 400 == posted(client, "/answer", **wrong).status_code
        assert 409 == posted(client, "/answer", what="seen", alarms=str(cold.alarm), note="x" * 1001).status_code
        assert 400 == posted(client, "/answer", what="later", alarms=str(cold.alarm), hours="-1").status_code
    with cold.kept() as store:
        assert ("unacknowledged", None) == (store.heard_of(cold.alarm).state, store.heard_of(cold.alarm).shelf)
