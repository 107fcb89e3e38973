"""Names, forms and headers, asked over the wire without a browser."""

import http.client
import re
import socket
import stat
from urllib.parse import urlsplit

import httpx2 as httpx
import pytest

from monitor.addresses import Page
from monitor.errors import StoreError
from monitor.reports.facts import now_facts
from monitor.web.guard import COOKIE, is_called, names_of, token_of
from monitor.web.key import key_at
from parts.browser import sheet
from parts.paged import paged
from parts.road import until

NAMES = names_of(Page("0.0.0.0", 8420, "https://bins.example/x"))


@pytest.mark.parametrize(
    "host", ["localhost", "localhost:8420", "127.0.0.1:8420", "[::1]:8420", "192.168.1.7", "bins.example"]
)
def test_it_goes_by_its_names_and_by_any_number(host):
    assert is_called(host, NAMES)


@pytest.mark.parametrize(
    "host", ["", "elsewhere.example", "bins.example.elsewhere.example", "1.2.3.4.elsewhere.example", "[bad"]
)
def test_it_goes_by_no_other_name(host):
    assert not is_called(host, NAMES)


def test_a_strange_name_is_refused(house):
    where = urlsplit(house.address)
    link = http.client.HTTPConnection(where.hostname, where.port, timeout=30)
    link.request("GET", "/", headers={"Host": "elsewhere.example"})
    answer = link.getresponse()
    assert (400, b"does not go by that name") == (answer.status, answer.read()[10:34])
    link.close()


def test_every_answer_says_what_a_browser_may_load(house):
    answer = httpx.get(house.address + "/")
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert ("nosniff", "no-referrer", "no-store") == tuple(
        answer.headers[n] for n in ("x-content-type-options", "referrer-policy", "cache-control")
    )
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(COOKIE + "=") and "HttpOnly" in cookie and "SameSite=Lax" in cookie
    assert "server" not in answer.headers


def test_static_files_are_kept_by_the_browser_and_called_by_what_is_in_them(house):
    (name,) = re.findall(r'href="(/static/sheet\.css\?[0-9a-f]{12})"', httpx.get(house.address + "/").text)
    assert "immutable" in httpx.get(house.address + name).headers["cache-control"]


def test_nothing_is_there_is_said_in_words(house):
    answer = httpx.get(house.address + "/nowhere")
    assert 404 == answer.status_code and "There is nothing at this address." in answer.text


def test_the_key_is_for_ourselves_alone_and_stays(tmp_path):
    key = key_at(tmp_path / "page.key")
    assert 32 == len(key) and key == key_at(tmp_path / "page.key")
    assert 0o600 == stat.S_IMODE((tmp_path / "page.key").stat().st_mode)
    (tmp_path / "page.key").write_bytes(b"cut off")
    assert 32 == len(key_at(tmp_path / "page.key"))


def test_a_token_belongs_to_one_visit_and_one_key():
    assert 3 == len({token_of(b"a" * 32, "one"), token_of(b"a" * 32, "two"), token_of(b"b" * 32, "one")})


def test_an_open_live_page_does_not_keep_the_daemon_from_ending(tmp_path, browser):
    with paged(tmp_path) as house, sheet(browser, house.address) as one:
        page = one.open("/")
        page.evaluate(
            "window.heard = 0; new EventSource('/events').addEventListener('round', () => window.heard++)"
        )
        until(lambda: page.evaluate("window.heard") > 1, "two rounds heard of", 30)
        assert house.end(5), "it did not end within 5 s"


def _is_there(house):
    try:
        with house.kept() as store:
            return store.load().last_round is not None
    except StoreError:
        return False


def test_a_page_that_cannot_listen_leaves_the_watching_alone_and_says_so(tmp_path, caplog):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with paged(tmp_path, listen=port) as house:
            until(lambda: _is_there(house), "a store", 30)
            house.say("probes/fig-near", "24.0")
            house.until(lambda store: store.counted() == 1 and store.load().last_round, "it watches")
            assert "watches on without it" in caplog.text
            with house.kept() as store:
                notes = now_facts(store, house.rules, store.load().last_round.at)["notes"]
            (said,) = [note["sentence"] for note in notes if note["kind"] == "no page"]
            assert said.startswith(f"The page is not served at 127.0.0.1:{port}: address already in use.")
    with paged(tmp_path) as house:
        house.until(lambda store: ("page", "trouble") not in store.load().standing, "it is served again")


def test_what_is_asked_from_another_page_is_refused(house):
    answer = httpx.post(house.address + "/", headers={"sec-fetch-site": "cross-site"})
    assert 403 == answer.status_code and "asked from another page" in answer.text


@pytest.mark.parametrize(
    "headers",
    [{"content-length": "262145"}, {"content-length": "9" * 30}, {"transfer-encoding": "chunked"}],
    ids=["too long", "far too long", "nobody knows how long"],
)
def test_nothing_long_is_read(house, headers):
    where = urlsplit(house.address)
    link = http.client.HTTPConnection(where.hostname, where.port, timeout=30)
    link.putrequest("POST", "/answer", skip_accept_encoding=True)
    for name, value in headers.items():
        link.putheader(name, value)
    link.endheaders()
    answer = link.getresponse()
    assert answer.status in (400, 413), "h11 itself refuses a length that is no length"
    assert headers == {"content-length": "9" * 30} or b"At most 262,144 bytes" in answer.read()
    link.close()
