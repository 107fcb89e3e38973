"""The keeper's passphrase: checked slowly on purpose, with few tries, and remembered by a signed cookie."""

from __future__ import annotations

import hashlib
import hmac
import math
import secrets
import threading
import unicodedata
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address

from monitor.addresses import Secret
from monitor.readings import DAY, Millis

COST, BLOCK, LANES = 2**14, 8, 1
"""scrypt's N, r and p for somebody who waits (Percival, BSDCan 2009; RFC 7914, section 2 [memory]): 16 MB for a moment."""
STAYS: Millis = 30 * DAY
"""How long a browser need not say it again (proposal)."""
FREE, FIRST, LONGEST = 5, 2.0, 60.0
"""Wrong tries without a pause; the pause after the next; and the longest, to which each further one doubles it (proposal)."""
BUSY = 1.0
"""Seconds that a try waits for its turn; many at once must not hold up every other answer (proposal)."""
FORGOTTEN_AFTER = 3600.0
MOST = 1000
"""Places of which tries are remembered; the oldest gives way."""
LONGEST_TEXT = 1024


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    wait_until: float = 0.0
    last: float = -math.inf


class Throttle:
    """Few tries from one place. `patience` is real, monotonic time. Not safe from several threads by itself."""

    def __init__(self, patience: Callable[[], float]) -> None:
        self._now = patience
        self._places: OrderedDict[str, _Tries] = OrderedDict()

    def wait(self, place: str) -> float:
        """Seconds until this place may try again; 0 when it may."""
        tries = self._places.get(place)
        return max(tries.wait_until - self._now(), 0.0) if tries else 0.0

    def wrong(self, place: str) -> None:
        """Count a wrong try."""
        now = self._now()
        tries = self._places.setdefault(place, _Tries())
        self._places.move_to_end(place)
        if now - tries.last > FORGOTTEN_AFTER:
            tries.wrong = 0
        tries.wrong, tries.last = tries.wrong + 1, now
        beyond = tries.wrong - FREE
        tries.wait_until = now + min(FIRST * 2.0 ** min(beyond, 30), LONGEST) if beyond >= 0 else 0.0
        while len(self._places) > MOST:
            self._places.popitem(last=False)

    def right(self, place: str) -> None:
        """Forget its wrong ones."""
        self._places.pop(place, None)


def place_of(host: str | None) -> str:
    """From where somebody tries: an address, or the network of 64 bits that a household gets of IPv6."""
    try:
        found = ip_address(host or "")
    except ValueError:
        return host or ""
    if isinstance(found, IPv6Address):
        mapped = found.ipv4_mapped
        return str(mapped) if mapped else f"{int(found) >> 64:x}::/64"
    return str(found)


class Passphrase:
    """Safe from any thread. Only a salted scrypt of it is kept; one try is reckoned at a time."""

    def __init__(self, secret: Secret, key: bytes, *, patience: Callable[[], float]) -> None:
        self._salt = secrets.token_bytes(16)
        self._kept = self._slow(secret.reveal())
        self._stamp = hmac.new(key, b"keeper:" + secret.reveal().encode(), hashlib.sha256).digest()
        self._lock = threading.Lock()
        self._throttle = Throttle(patience)
        self._told: bytes | None = None

    def _slow(self, text: str) -> bytes:
        said = unicodedata.normalize("NFC", text).encode("utf-8", "surrogatepass")
        return hashlib.scrypt(said, salt=self._salt, n=COST, r=BLOCK, p=LANES, maxmem=64 * 2**20, dklen=32)

    def attempt(self, text: str, place: str) -> float | None:
        """None when it is right; else the seconds until this place may try again."""
        if not self._lock.acquire(timeout=BUSY):
            return BUSY
        try:
            wait = self._throttle.wait(place)
            if wait:
                return wait
            if len(text) <= LONGEST_TEXT and hmac.compare_digest(self._slow(text), self._kept):
                self._throttle.right(place)
                return None
            self._throttle.wrong(place)
            return self._throttle.wait(place)
        finally:
            self._lock.release()

    def is_told_by_program(self, text: str, place: str) -> bool:
        """The same for a program that says it with each question: reckoned once, and known again."""
        quick = hmac.new(self._stamp, text.encode("utf-8", "replace"), hashlib.sha256).digest()
        if self._told is not None and hmac.compare_digest(quick, self._told):
            return True
        if self.attempt(text, place) is not None:
            return False
        self._told = quick
        return True

    def cookie(self, visit: str, now: Millis) -> str:
        """What a browser carries that has said it. Another passphrase, another key or another visit makes it worthless."""
        until = now + STAYS
        return f"{until}.{self._seal(visit, until)}"

    def knows(self, visit: str, cookie: str, now: Millis) -> bool:
        """Whether this cookie was given to this visit, and holds still."""
        until, _, seal = cookie.partition(".")
        if not (until.isascii() and until.isdigit() and len(until) < 20):
            return False
        return now < int(until) and hmac.compare_digest(
            self._seal(visit, int(until)).encode(), seal.encode("utf-8", "replace")
        )

    def _seal(self, visit: str, until: Millis) -> str:
        return hmac.new(self._stamp, f"{visit} {until}".encode(), hashlib.sha256).hexdigest()
