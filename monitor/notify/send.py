"""One notice to one address. Apprise lives here only, and is imported when the first address is looked at, with what that
address needs.

Apprise tells no temporary failure from a permanent one, logs addresses, and follows a redirected POST with a
GET that carries nothing: so its log is caught and redacted here, redirects are not followed unless the
address asks for it (`redirect=yes`), and every failure is worth another try.
"""

from __future__ import annotations

import difflib
import importlib
import logging
import threading
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from urllib.parse import parse_qs, urlsplit

from monitor.addresses import Secret
from monitor.errors import SendError
from monitor.notify import ways
from monitor.notify.redact import fragments, starred

TIMEOUT = 10.0
"""Seconds a peer may keep silent. The sender bounds the whole send on top."""

LONGEST_REASON = 200

_loading = threading.Lock()


class _Ear(logging.Handler):
    """Hears what Apprise logs in the thread that listens; nothing it says goes anywhere else."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.heard = threading.local()

    def emit(self, record: logging.LogRecord) -> None:
        said: list[str] | None = getattr(self.heard, "said", None)
        if said is None:
            return
        text = record.getMessage()
        if record.levelno >= logging.WARNING or text.startswith("Socket Exception"):
            said.append(" ".join(text.split()))

    @contextmanager
    def listening(self) -> Iterator[list[str]]:
        """Collect what is said in this thread; who listened before does not hear it."""
        before = getattr(self.heard, "said", None)
        self.heard.said = said = list[str]()
        try:
            yield said
        finally:
            self.heard.said = before


_ear = _Ear()


def _apprise(scheme: str | None = None) -> Any:
    """Apprise, made to hold its tongue, with this way of sending; with all of them when none is named or none is called so."""
    with _loading:
        _with(scheme)
        return _loaded()


@cache
def _with(scheme: str | None) -> None:
    with _ear.listening(), warnings.catch_warnings():  # some plugins import what newer Pythons no longer like
        warnings.simplefilter("ignore", DeprecationWarning)
        manager = _loaded().NotificationManager()
        if scheme is None:
            manager.load_modules()
        elif not ways.load(manager, scheme):
            _with(None)


@cache
def _loaded() -> Any:
    log = logging.getLogger("apprise")
    log.propagate = False
    log.setLevel(logging.DEBUG)
    log.addHandler(_ear)
    for chatty in ("urllib3", "requests_oauthlib", "oauthlib"):
        logging.getLogger(chatty).setLevel(logging.ERROR)  # urllib3 warns with whole addresses
    import apprise

    return apprise


def _asset(apprise: Any) -> Any:
    """Our own name, nothing fetched from elsewhere, nothing written to disk, keys never made by themselves."""
    asset = apprise.AppriseAsset(
        storage_mode="memory", http_redirects=False, pgp_autogen=False, pem_autogen=False, image_path_mask=False
    )
    asset.app_id = asset.app_desc = "Vermistat"
    asset.app_url = asset.image_url_mask = asset.image_url_logo = ""
    return asset


def _opened(url: str) -> Any:
    """The way of sending that an address stands for, None when it is not understood."""
    scheme = url.partition("://")[0].lower()
    apprise = _apprise(scheme if scheme.isalnum() else None)
    return apprise.Apprise.instantiate(url, asset=_asset(apprise))


def complaint(url: str) -> str | None:
    """What is wrong with an address, as a sentence without the address; None when it is understood."""
    url = url.strip()
    scheme, sep, rest = url.partition("://")
    if not url:
        return "The address is empty."
    if not sep or not rest:
        return "An address begins with a way of sending and ://, such as mailto:// or json://."
    with _ear.listening():
        if _opened(url) is not None:
            return None
        known = sorted(_schemes())
    scheme = scheme.lower()
    if scheme in known:
        return f"The address begins with {scheme}:// but the rest is not what that way of sending needs."
    if scheme in ("http", "https"):
        return f"No way of sending is called {scheme}://. A web hook is json{scheme[4:]}://."
    near = difflib.get_close_matches(scheme, known, n=1, cutoff=0.7)
    hint = f" Did you mean {near[0]}://?" if near else ""
    return f"No way of sending is called {scheme}://.{hint}"


def _schemes() -> list[str]:
    return [str(s) for s in _apprise().NotificationManager().schemas()]


def _bounded(service: Any, url: str, timeout: float) -> None:
    """Our timeout, or a shorter one that the address asks for itself (`cto`, `rto`)."""
    asked = parse_qs(urlsplit(url).query)
    for key, name in (("cto", "socket_connect_timeout"), ("rto", "socket_read_timeout")):
        setattr(service, name, min(getattr(service, name), timeout) if key in asked else timeout)


@dataclass(frozen=True, slots=True)
class Letter:
    """A message as mail programs show it, besides its plain words: `html`, in which `cid:NAME` is one of `pictures` (PNG)."""

    html: str
    pictures: Mapping[str, bytes] = field(default_factory=dict)


def send(url: Secret, title: str, body: str, *, letter: Letter | None = None, timeout: float = TIMEOUT) -> None:
    """Deliver one message on one address. Raises SendError with a reason that holds no part of the address.

    A `letter` goes where mail goes, with plain words beside it, unless the address asks for text alone; elsewhere and then
    `body` goes.
    `timeout` is in seconds and bounds each silence of the peer, not the whole: a peer that drips bytes can
    hold the call for longer, so it runs where it can be abandoned.
    """
    with _ear.listening() as said:
        try:
            delivered = _delivered(url.reveal().strip(), title, body, letter=letter, timeout=timeout)
        except Exception as error:  # what 190 plugins may raise is not ours to know
            said.append(f"{type(error).__name__}: {error}")
            delivered = False
    if not delivered:
        raise SendError(_reason(said, url))


def _delivered(url: str, title: str, body: str, *, letter: Letter | None, timeout: float) -> bool:
    service = _opened(url)
    if service is None:
        return False
    _bounded(service, url, timeout)
    if letter is not None and _is_mail(service):
        return _mailed(service, title, letter)
    return bool(service.notify(title=title, body=body or title, body_format="text"))


def _is_mail(service: Any) -> bool:
    """Whether it sends by SMTP, as HTML with words beside it: what it does unless the address says `format=text`."""
    return bool(service.secure_protocol == "mailtos" and service.resolve_format("html") == "html")


def _mailed(service: Any, title: str, letter: Letter) -> bool:
    """Apprise makes the plain part of the HTML itself, and gives each picture the Content-ID of its name."""
    attached = _loaded().AppriseAttachment()
    memory = importlib.import_module("apprise.attachment.memory").AttachMemory
    for name, picture in letter.pictures.items():
        attached.add(memory(content=picture, name=name, mimetype="image/png"))
    service.inline = True
    return bool(service.notify(title=title, body=letter.html, body_format="html", attach=attached or None))


def _reason(said: list[str], url: Secret) -> str:
    told = "; ".join(dict.fromkeys(said)) or "the other side did not take it and gave no reason"
    return starred(told, fragments(url))[:LONGEST_REASON]
