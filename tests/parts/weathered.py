"""Mistakes of an outdoor forecast as files: how it comes, what comes, and what becomes of it.

topic                       it comes by one; without this line an address is asked, at a real server
retained                    the broker had kept it
reads times=/t temperatures=/c sends=degF   in place of the lists of hours in °C
before 20                   an earlier forecast of 48 hours was kept so many hours ago
stored {"received": 5}      this was kept before
status 503                  what an address answers with, in place of 200
header Retry-After: 120     one of its headers
does drips                  what the server does instead, by its name in `weather_service`; or nobody, no name, silent, untrusted,
                            into the open, out of sight
> payload, one line each; >b as Python writes bytes; >* 70000 text repeats the text
hours -3 30 [word]          a payload of whole hours from so many before or after now, 5 °C each; `word` in place of the last
refused not JSON: why       what is kept and shown of a message
wrong why                   what is kept and shown of an address
later 120                   not asked before so many s are over
told sentence               what `vermistat forecast` says of it all
"""

import json
import ssl
from dataclasses import dataclass, field

import trustme
import urllib3

from monitor.addresses import Outdoors, Secret
from monitor.bed.outside import KIND, TOLD
from monitor.clock import Patience
from monitor.intake.outdoors import asides, keep
from monitor.outdoors import Fetching, asking
from monitor.outdoors.asking import Asker
from monitor.readings import HOUR, Refusal
from monitor.reports.outdoors import outdoors_facts
from monitor.reports.saying import Saying
from monitor.store.memory import MemoryStore
from monitor.store.promises import Standing
from monitor.wire.inbox import Delivery
from parts import orchard, weather_service
from parts.webhook import closed_port
from parts.wired import NOW, _bytes


@dataclass
class Case:
    """One file, read."""

    topic: bool = False
    retained: bool = False
    reads: dict = field(default_factory=dict)
    before: int | None = None
    stored: str = ""
    status: int = 200
    headers: dict = field(default_factory=dict)
    does: str = ""
    payload: bytes = b""
    expected: list = field(default_factory=list)


def read(text):
    """A Case out of a file's text."""
    case, lines = Case(), []
    for line in text.splitlines():
        word, _, rest = line.partition(" ")
        if word in ("topic", "retained"):
            setattr(case, word, True)
        elif word == "reads":
            case.reads = dict(each.split("=", 1) for each in rest.split())
        elif word in ("before", "status"):
            setattr(case, word, int(rest))
        elif word == "header":
            name, _, value = rest.partition(": ")
            case.headers[name] = value
        elif word in ("does", "stored"):
            setattr(case, word, rest)
        elif word == "hours":
            lines.append(_hours(*rest.split()))
        elif word.startswith(">"):
            lines.append(_bytes(word, rest))
        elif word in ("refused", "wrong", "later", "told"):
            case.expected.append(line)
        else:
            assert not line or word == "#", f"no such line: {line!r}"
    case.payload = b"\n".join(lines)
    return case


def _hours(first, last, odd=""):
    found = range(int(first), int(last))
    warmth = [5.0] * len(found)
    if odd:
        warmth[-1] = json.loads(odd)
    return json.dumps({"hours": {"time": [NOW + n * HOUR for n in found], "celsius": warmth}}).encode()


def outcome(case, server, monkeypatch):
    """What is kept and said, in the words of the files. `server` is a WeatherService."""
    reads = {"times": "/hours/time", "temperatures": "/hours/celsius", **case.reads}
    store = MemoryStore()
    if case.before is not None:
        keep(store, [(NOW + (n - case.before) * HOUR, 5.0) for n in range(48)], NOW - case.before * HOUR)
    if case.stored:
        store.settle([Standing(KIND, TOLD, case.stored)])
    said = _by_topic(case, reads, store) if case.topic else _by_address(case, reads, store, server, monkeypatch)
    facts = outdoors_facts(store, Saying(orchard.rules(), NOW))
    return [*said, *([f"told {facts['sentence']}"] if facts else [])]


def _by_topic(case, reads, store):
    (aside,) = asides(Outdoors(**reads, topic="weather/next"), store).values()
    found = aside(Delivery(1, 1, 1, False, case.retained, "weather/next", case.payload, NOW))
    if isinstance(found, Refusal):
        return [f"refused {found.kind}: {found.reason}"]
    found()
    return []


def _by_address(case, reads, store, server, monkeypatch):
    with monkeypatch.context() as patched:
        patched.setattr(asking, "WAITS", urllib3.Timeout(connect=0.3, read=0.3))
        patched.setattr(asking, "WHOLE", 0.6)
        url, close = _behaving(case, server, patched)
        try:
            where = Outdoors(**reads, url=Secret(f"{url}?key=s3cret"))
            answer = Asker(where, Patience().now).ask(NOW)
        finally:
            close()
    fetching = Fetching(where, site="orchard", store=store, now=lambda: NOW, patience=Patience())
    wrong = answer.wrong or fetching._kept(answer)
    said = []
    if wrong:
        fetching._failing(wrong, 1)
        said.append(f"wrong {wrong}")
    return said + ([] if answer.after is None else [f"later {answer.after / 1000:g}"])


def _behaving(case, server, patched):
    """The address to ask, its server doing as the file says, and what ends it."""
    headers = {name.replace("-", "_"): value for name, value in case.headers.items()}
    server.behave = weather_service.says(case.payload, case.status, **headers)
    if case.does == "nobody":
        return f"http://127.0.0.1:{closed_port()}/next", lambda: None
    if case.does == "no name":
        return "http://weather.invalid/next", lambda: None  # RFC 6761 §6.4
    if case.does == "silent":
        server.behave = lambda request: server.released.wait(0.6)
    elif case.does in ("untrusted", "into the open", "out of sight"):
        return _secured(case.does, server, patched)
    elif case.does:
        server.behave = getattr(weather_service, case.does)
    return server.url, lambda: None


def _secured(does, server, patched):
    """A server that speaks https; one that is trusted sends on to http, or to another kind of address."""
    authority, tls = trustme.CA(), ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert("127.0.0.1").configure_cert(tls)
    location = server.url if does == "into the open" else "ftp://127.0.0.1/next"
    secure = weather_service.WeatherService(weather_service.says(b"", 302, Location=location), tls=tls)
    if does != "untrusted":
        trusting(patched, authority)
    secure.__enter__()
    return secure.url, lambda: secure.__exit__(None, None, None)


def trusting(patched, authority):
    """Whoever asks trusts this authority, as it trusts those of the system."""
    made = urllib3.PoolManager

    def pool(**more):
        context = ssl.create_default_context()
        authority.configure_trust(context)
        return made(**more, ssl_context=context)

    patched.setattr(asking.urllib3, "PoolManager", pool)
