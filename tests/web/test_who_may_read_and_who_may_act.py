"""The passphrase before a running daemon: what is asked for it, what a notice's link opens, what a program sends."""

import re
import time
from concurrent.futures import ThreadPoolExecutor

import httpx2 as httpx
import pytest

from monitor.notify.links import GOOD_FOR, Link, sealed
from monitor.readings import MINUTE
from parts.asking_pages import posted, token
from parts.browser import LOOKS, axe, sheet
from parts.paged import paged
from parts.webhook import Webhook

WORD = "leaves under the snow"
ASKS = "passphrase: {from_env: PAGE_PASSPHRASE}"


def chill(house):
    house.say("probes/fig-near", "10.5")
    house.say("probes/fig-far", "9.8")
    house.until(lambda store: store.load().alarms and store.load().advice, "an alarm and its advice")
    with house.kept() as store:
        return store.load().alarms[0].number


@pytest.fixture(scope="module")
def shut(tmp_path_factory):
    """The passphrase is asked for everything."""
    with paged(tmp_path_factory.mktemp("shut"), page=ASKS) as house:
        house.alarm = chill(house)
        yield house


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    """Whoever comes may read."""
    with paged(tmp_path_factory.mktemp("read"), page=f"{ASKS}, asks_for: acting") as house:
        house.alarm = chill(house)
        yield house


@pytest.fixture
def visit(shut):
    with httpx.Client(base_url=shut.address) as client:
        yield client


def said(client, word=WORD, **more):
    return posted(client, "/enter", of="/enter", passphrase=word, **more)


def link(house, *, alarm=None, person="ana", age=0, notice=1):
    """As a notice carries it, made with the daemon's own key; the beds' clock is the wall's here."""
    now = int(time.time() * 1000)
    one = Link(notice, alarm or house.alarm, person, (now + GOOD_FOR - age) // MINUTE * MINUTE)
    return f"/alarms/{one.alarm}?by={sealed(one, (house.folder / 'kept.key').read_bytes())}"


@pytest.mark.parametrize("path", ["/", "/alarms/1", "/week", "/nowhere"])
def test_nothing_is_shown_before_it_is_said(visit, path):
    answer = visit.get(path)
    assert (303, f"/enter?to={path}") == (answer.status_code, answer.headers["location"])
    assert b"" == answer.content


@pytest.mark.parametrize("path", ["/events", "/metrics", "/api/now"])
def test_a_program_is_told_so_in_its_own_way(visit, path):
    answer = visit.get(path)
    assert (401, "Bearer") == (answer.status_code, answer.headers["www-authenticate"].split()[0])
    assert 401 == visit.get(path, headers={"Authorization": "Bearer wrong"}).status_code
    assert 401 == visit.get(path, headers={"Authorization": f"Basic {WORD}"}).status_code


def test_a_program_that_says_it_may_read_and_not_act(shut, visit):
    told = {"Authorization": f"Bearer {WORD}"}
    assert visit.get("/api/nowhere", headers=told).status_code == 404
    assert 303 == visit.get("/", headers=told).status_code, "pages are for people"
    assert "/enter" in visit.post("/answer", headers=told).headers["location"]


def test_nothing_is_done_before_it_is_said(shut, visit):
    answer = posted(visit, "/answer", of="/enter", what="seen", alarms=str(shut.alarm))
    assert (303, "/enter?to=/") == (answer.status_code, answer.headers["location"])
    with shut.kept() as store:
        assert "unacknowledged" == store.heard_of(shut.alarm).state


def test_once_it_is_said_everything_is_open_until_it_is_forgotten(visit):
    answer = said(visit, to="/alarms/1")
    assert (303, "/alarms/1") == (answer.status_code, answer.headers["location"])
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Max-Age=2592000" in cookie
    assert "Secure" not in cookie, "over plain http a browser would not send it back"
    assert 200 == visit.get("/").status_code
    assert 303 == posted(visit, "/leave").status_code
    assert 303 == visit.get("/").status_code


def test_it_leads_to_no_other_place(visit):
    for away in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:1"):
        assert "/" == said(visit, to=away).headers["location"]
        visit.cookies.clear()


def test_a_cookie_of_another_visit_is_worth_nothing(shut, visit):
    said(visit)
    stolen = visit.cookies["vermistat_keeper"]
    with httpx.Client(base_url=shut.address, cookies={"vermistat_keeper": stolen}) as other:
        assert 303 == other.get("/").status_code


def test_even_with_it_a_form_must_be_our_own(shut, visit):
    said(visit)
    for fields in ({}, {"ours": "0" * 64}, {"ours": token(visit)[::-1]}):
        answer = visit.post("/answer", data={"what": "seen", "alarms": str(shut.alarm), **fields})
        assert 403 == answer.status_code
    with shut.kept() as store:
        assert "unacknowledged" == store.heard_of(shut.alarm).state


def test_guessing_is_slow(tmp_path):
    with paged(tmp_path, page=ASKS) as house, httpx.Client(base_url=house.address) as guesser:
        tries = [said(guesser, f"guess {n}") for n in range(5)]
        assert [403, 403, 403, 403, 429] == [one.status_code for one in tries]
        assert "2" == tries[-1].headers["retry-after"] and "Wait 2 s" in tries[-1].text
        assert 429 == said(guesser).status_code, "the right one has to wait as well"
        assert 303 == guesser.get("/").status_code


def test_whoever_may_read_must_say_it_to_act(read, browser):
    with sheet(browser, read.address, "phone") as one:
        page = one.open("/")
        page.locator(f"#seen-{read.alarm}").click()
        assert "The keeper's passphrase" == page.get_by_role("heading", level=1).inner_text()
        page.get_by_label("Passphrase").fill(WORD)
        page.keyboard.press("Enter")
        page.wait_for_url(read.address + "/")
        page.locator(f"#later-{read.alarm}").click()
        assert "is put off until" in page.get_by_role("status").inner_text()
        one.is_fine()


@pytest.mark.parametrize("look", LOOKS)
def test_the_page_that_asks_is_fine_in_every_look(shut, browser, look):
    with sheet(browser, shut.address, look) as one:
        page = one.open("/")
        assert page.url.endswith("/enter?to=/")
        page.get_by_label("Passphrase").fill("wrong")
        page.get_by_role("button", name="Come in").click()
        assert page.get_by_role("alert").inner_text().startswith("That is not it")
        wrong = [c for c in one.complaints if "403" not in c and "429" not in c]
        assert [] == wrong and [] == one.strangers
        assert look == "without-script" or [] == axe(page)


# ── a notice's link ───────────────────────────────────────────────────────────────────────────────────────────


def test_a_link_opens_its_alarm_and_its_button_acts_once(tmp_path, browser):
    with paged(tmp_path, page=ASKS) as house, sheet(browser, house.address, "phone") as one:
        house.alarm = chill(house)
        where = link(house)
        page = one.open(where)
        assert "You answer as ana" in page.locator("main").inner_text()
        page.reload()
        with house.kept() as store:
            assert "unacknowledged" == store.heard_of(house.alarm).state, "opening it does nothing"
        assert [] == axe(page)
        page.get_by_role("button", name="Seen").click()
        assert "is seen, says ana" in page.get_by_role("status").inner_text()
        with house.kept() as store:
            assert "acknowledged" == store.heard_of(house.alarm).state
        one.page.goto(house.address + where)
        assert "/enter?to=" in page.url
        assert "That link opens nothing any more" in page.locator("main").inner_text()


def test_a_link_does_nothing_twice_even_at_the_same_time(tmp_path):
    with paged(tmp_path, page=ASKS) as house, httpx.Client(base_url=house.address) as client:
        house.alarm = chill(house)
        where = link(house)
        path, _, seal = where.partition("?")
        form = {"ours": token(client, where), "what": "done"}

        def press(_):
            return client.post(f"{path}/answer?{seal}", data=form).status_code

        with ThreadPoolExecutor(4) as hands:
            answers = sorted(hands.map(press, range(4)))
        assert 1 == answers.count(200) and {200, 303, 403} >= set(answers)
        with house.kept() as store:
            assert 1 == len(store.diary())
        house.until(lambda store: ("link", f"1.{house.alarm}.ana") in store.load().standing, "the link is used")


@pytest.mark.parametrize(
    "more",
    [{"age": GOOD_FOR + MINUTE}, {"person": "nobody"}, {"alarm": 4711}],
    ids=["too old", "of nobody here", "of another alarm"],
)
def test_what_opens_nothing(shut, visit, more):
    where = link(shut, **more)
    if "alarm" in more:
        where = where.replace("4711", str(shut.alarm))
    answer = visit.get(where)
    assert (303, f"/enter?to=/alarms/{shut.alarm}&used=1") == (answer.status_code, answer.headers["location"])


def test_a_link_opens_its_own_alarm_and_nothing_else(shut, visit):
    seal = link(shut).partition("?")[2]
    assert 200 == visit.get(f"/alarms/{shut.alarm}?{seal}").status_code
    for path in ("/", "/alarms/4711", "/diary", "/api/now"):
        assert visit.get(f"{path}?{seal}").status_code in (303, 401)
    assert 303 == visit.post(f"/answer?{seal}").status_code


def test_a_link_needs_a_form_of_ours_too(shut, visit):
    where = link(shut, notice=99)
    path, _, seal = where.partition("?")
    assert 403 == visit.post(f"{path}/answer?{seal}", data={"what": "seen"}).status_code
    assert 200 == visit.get(where).status_code, "what was refused has not used it up"


def test_a_notice_carries_its_link_where_the_page_can_be_reached(tmp_path):
    page = f"{ASKS}, address: 'http://localhost'"
    with (
        Webhook() as post,
        paged(tmp_path, page=page, environ={"SCREEN": post.url()}) as house,
        httpx.Client(base_url=house.address) as client,
    ):
        number = chill(house)
        (text,) = post.texts(1)
        (found,) = re.findall(r"http://localhost(/alarms/\d+\?by=[\w-]+)", text)
        assert found.startswith(f"/alarms/{number}?")
        assert "You answer as ana" in client.get(found).text


def test_a_notice_carries_none_where_it_cannot(tmp_path):
    with Webhook() as post, paged(tmp_path, page=ASKS, environ={"SCREEN": post.url()}) as house:
        number = chill(house)
        (text,) = post.texts(1)
        assert "by=" not in text and f"vermistat seen {number}" in text
