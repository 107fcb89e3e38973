"""A web address is asked for the outdoor forecast: a real server that answers, has nothing new, is slow, too large, garbled or
gone. What is polite is RFC 9110's: conditional requests (§13.1), Retry-After (§10.2.3), a User-Agent (§10.1.5).
"""

import json
import logging
import ssl
import threading

import pytest
import trustme
import urllib3

from monitor.addresses import ASKED_LEAST, Outdoors, Secret
from monitor.bed.outside import KIND, TOLD, TROUBLE, outside_of
from monitor.clock import Patience
from monitor.intake.outdoors import LONGEST
from monitor.outdoors import Fetching, asking, pause
from monitor.outdoors.asking import REDIRECTS, Asker
from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.store.memory import MemoryStore
from parts.weather_service import WeatherService, body, breaks_off, drips, endless, says, says_if_new
from parts.weathered import trusting
from parts.webhook import SOON, closed_port

NOW = 1_795_608_000_000
"""2026-11-25T12:00:00Z."""
GOOD = body(NOW, range(48))


@pytest.fixture(scope="module")
def server():
    with WeatherService() as found:
        yield found


def asker(url, **more):
    return Asker(Outdoors("/hours/time", "/hours/celsius", url=Secret(url), **more), Patience().now)


def ask(server, behave, *, url=None):
    server.behave = behave
    return asker(url or server.url).ask(NOW)


def test_what_it_says_is_read_hour_by_hour(server):
    answer = ask(server, says(GOOD))
    assert ("", [(NOW + n * HOUR, float(n)) for n in range(48)]) == (answer.wrong, answer.hours)


def test_who_asks_says_the_programs_name_and_nothing_of_the_site(server):
    while not server.asked.empty():
        server.next()
    ask(server, says(GOOD))
    path, headers = server.next()
    assert "/next" == path
    assert headers["User-Agent"].startswith("vermistat/")
    assert {"Host", "Accept", "Accept-Encoding", "User-Agent"} >= set(headers)


def test_what_is_known_already_is_not_sent_again(server):
    server.behave = says_if_new(GOOD, '"a1"')
    one = asker(server.url)
    assert 48 == len(one.ask(NOW).hours)
    again = one.ask(NOW)
    assert (None, "") == (again.hours, again.wrong)
    server.behave = says_if_new(GOOD, '"a2"')
    assert 48 == len(one.ask(NOW).hours)


def test_a_date_of_the_last_change_is_asked_by_where_there_is_no_mark(server):
    changed = "Wed, 25 Nov 2026 11:00:00 GMT"
    server.behave = says(GOOD, Last_Modified=changed)
    one = asker(server.url)
    one.ask(NOW)
    while not server.asked.empty():
        server.next()
    one.ask(NOW)
    assert changed == server.next()[1]["If-Modified-Since"]


def test_what_was_read_but_could_not_be_kept_is_asked_for_whole(server):
    server.behave = says_if_new(GOOD, '"a1"')
    one = asker(server.url)
    one.ask(NOW)
    one.forget()
    assert 48 == len(one.ask(NOW).hours)


AFTER = [
    ("120", 120 * SECOND),
    ("Wed, 25 Nov 2026 13:00:00 GMT", HOUR),
    ("Wed, 25 Nov 2026 11:00:00 GMT", 0),
    ("soon", None),
    (None, None),
]


@pytest.mark.parametrize(("said", "expected"), AFTER)
def test_it_says_when_it_may_be_asked_again(server, said, expected):
    answer = ask(server, says(b"", 503, **({"Retry_After": said} if said else {})))
    assert ("it answers with 503", expected) == (answer.wrong, answer.after)


def test_however_long_it_wants_to_be_left_alone_it_is_asked_within_a_week(server):
    for said in ("9" * 12, "Wed, 25 Nov 2099 13:00:00 GMT"):
        assert 7 * DAY >= ask(server, says(b"", 429, Retry_After=said)).after


WRONG = [
    (says(b"", 500), "it answers with 500"),
    (says(b"", 404), "it answers with 404"),
    (says(b"<html>"), "Not JSON: “<html>”. Look at the outdoor forecast."),
    (endless, f"it sends more than {LONGEST:,} bytes"),
    (breaks_off, "the connection broke"),
    (says(b"", 200), "it answers with nothing"),
]


@pytest.mark.parametrize(("behave", "expected"), WRONG, ids=[said for _, said in WRONG])
def test_what_goes_wrong_is_a_sentence(server, behave, expected):
    answer = ask(server, behave)
    assert (None, expected) == (answer.hours, answer.wrong)


def test_one_that_says_nothing_is_not_waited_for(server, monkeypatch):
    monkeypatch.setattr(asking, "WAITS", urllib3.Timeout(connect=0.1, read=0.1))
    assert "it does not answer in time" == ask(server, lambda request: server.released.wait(0.5)).wrong


def test_one_that_drips_is_left_after_a_minute(server, monkeypatch):
    monkeypatch.setattr(asking, "WHOLE", 0.2)
    assert ask(server, drips).wrong.startswith("it has not sent all of it within")


def test_nobody_there_and_no_such_name_are_told_apart():
    assert "nothing answers there" == asker(f"http://127.0.0.1:{closed_port()}/").ask(NOW).wrong
    assert "its name is not known" == asker("http://weather.invalid/").ask(NOW).wrong  # RFC 6761 §6.4


def test_it_may_send_us_on_but_not_in_a_circle(server):
    def elsewhere(request):
        says(GOOD)(request) if request.path == "/there" else says(b"", 302, Location="/there")(request)

    assert 48 == len(ask(server, elsewhere).hours)
    while not server.asked.empty():
        server.next()
    assert "it sends us on too often" == ask(server, says(b"", 302, Location="/next")).wrong
    assert 1 + REDIRECTS == server.asked.qsize()


def test_what_was_asked_for_in_secret_is_never_asked_for_in_the_open(server, monkeypatch):
    """RFC 9110 §17.9: an address may hold what is secret, and http shows it to everybody on the way."""
    authority, tls = trustme.CA(), ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("127.0.0.1").configure_cert(tls)
    trusting(monkeypatch, authority)
    while not server.asked.empty():
        server.next()
    server.behave = says(GOOD)
    with WeatherService(says(b"", 301, Location=f"{server.url}?key=s3cret"), tls=tls) as secure:
        answer = asker(secure.url).ask(NOW)
        assert (None, True) == (answer.hours, answer.wrong.startswith("it sends us on from https to http, where"))
        assert server.asked.empty()
        secure.behave = lambda request: (
            says(GOOD) if request.path == "/there" else says(b"", 308, Location=f"{secure.url[:-4]}there")
        )(request)
        assert 48 == len(asker(secure.url).ask(NOW).hours)
    with WeatherService(says(GOOD), tls=tls) as secure:
        assert 48 == len(ask(server, says(b"", 302, Location=secure.url)).hours)


def test_a_certificate_that_nobody_vouches_for_is_not_trusted():
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    trustme.CA().issue_cert("127.0.0.1").configure_cert(tls)
    with WeatherService(says(GOOD), tls=tls) as secure:
        assert "its certificate is not trusted" == asker(secure.url).ask(NOW).wrong


def test_no_sentence_holds_the_address(server):
    for behave, _ in WRONG:
        assert "s3cret" not in ask(server, behave, url=f"{server.url}?key=s3cret").wrong


# when it is asked


def test_it_is_asked_every_so_often_and_not_by_all_sites_in_one_second():
    waits = {pause(3 * HOUR, 0, None, f"site-{n}") for n in range(50)}
    assert len(waits) > 40
    assert 3 * HOUR <= min(waits)
    assert max(waits) <= 3 * HOUR * 1.05
    assert pause(3 * HOUR, 0, None, "orchard") == pause(3 * HOUR, 0, None, "orchard")


def test_it_is_never_asked_more_often_than_is_decent():
    assert pause(MINUTE, 0, None, "orchard") >= ASKED_LEAST


def test_after_failures_it_is_asked_later_and_later():
    waits = [pause(HOUR, failed, None, "orchard") for failed in range(1, 40)]
    assert 5 * MINUTE <= waits[0] <= 5 * MINUTE + HOUR // 20
    assert sorted(waits) == waits
    assert 6 * HOUR == waits[-1]


def test_it_is_not_asked_before_it_wants_to_be():
    assert 9 * HOUR == pause(HOUR, 1, 9 * HOUR, "orchard")
    assert pause(HOUR, 0, 1, "orchard") >= HOUR


# its thread


class Steps(Patience):
    """Waits that a test ends one by one; `waited` are their seconds."""

    def __init__(self):
        self.waited, self.go = [], threading.Semaphore(0)
        self.there = threading.Semaphore(0)

    def wait(self, event, seconds):
        self.waited.append(seconds)
        self.there.release()
        while not event.is_set() and not self.go.acquire(timeout=0.01):
            pass
        return event.is_set()

    def until_it_waits(self):
        assert self.there.acquire(timeout=SOON)


@pytest.fixture
def fetched(server):
    """(store, Steps, Fetching) of an address that is asked."""
    while not server.asked.empty():
        server.next()
    store, steps = MemoryStore(), Steps()
    where = Outdoors("/hours/time", "/hours/celsius", url=Secret(f"{server.url}?key=s3cret"), every=3 * HOUR)
    found = Fetching(where, site="orchard", store=store, now=lambda: NOW, patience=steps)
    yield store, steps, found
    found.stop()


def test_what_came_is_kept_and_what_fails_is_kept_beside_it(server, fetched, caplog):
    store, steps, found = fetched
    server.behave = says(GOOD)
    found.start()
    steps.until_it_waits()
    kept = outside_of(store.standing(KIND)[TOLD])
    assert (NOW, NOW, 48) == (kept.received, kept.first, len(kept.hours))
    server.behave = says(b"", 500)
    with caplog.at_level(logging.DEBUG):
        for _ in range(3):
            steps.go.release()
            steps.until_it_waits()
    assert kept == outside_of(store.standing(KIND)[TOLD])
    assert "it answers with 500" == json.loads(store.standing(KIND)[TROUBLE])["what"]
    assert 1 == sum("no outdoor forecast" in record.message for record in caplog.records), "once, not each time"
    assert "s3cret" not in caplog.text
    assert steps.waited[1] < steps.waited[2] < steps.waited[3]
    server.behave = says(GOOD)
    steps.go.release()
    steps.until_it_waits()
    assert TROUBLE not in store.standing(KIND)


def test_a_forecast_that_is_the_same_again_is_no_trouble_and_no_newer(server, fetched):
    store, steps, found = fetched
    server.behave = says_if_new(GOOD, '"a1"')
    found.start()
    steps.until_it_waits()
    before = store.standing(KIND)
    steps.go.release()
    steps.until_it_waits()
    assert before == store.standing(KIND)


def test_settings_without_it_forget_it(server, fetched):
    store, steps, found = fetched
    server.behave = says(GOOD)
    found.start()
    steps.until_it_waits()
    assert TOLD in store.standing(KIND)
    found.use(None)
    assert {} == store.standing(KIND)


def test_an_end_does_not_wait_for_an_answer(server, fetched):
    store, _, found = fetched
    gate = threading.Event()

    def late(request):
        gate.wait(SOON)
        says(GOOD)(request)

    server.behave = late
    found.start()
    server.next()
    thread = found._thread
    found.stop()
    gate.set()
    thread.join(SOON)
    assert not thread.is_alive()
    assert {} == store.standing(KIND), "what came too late is not kept"
