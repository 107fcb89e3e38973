"""The link in a notice: signed, for one person and one alarm, until a time. Whoever holds it may answer that alarm once.

Pure: the key is handed in, and whether a link was used is known where it is used.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import struct
from dataclasses import dataclass

from monitor.notify.notices import Notice
from monitor.readings import HOUR, MINUTE, Millis

GOOD_FOR: Millis = 48 * HOUR
"""How long a link opens anything (proposal): a notice of Friday evening can be answered on Sunday."""
_HEAD = struct.Struct(">III")
_MAC = 16
"""Bytes of HMAC-SHA-256 that are kept: 128 bits (RFC 2104, section 5: half of the hash at least [memory])."""
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Link:
    """What a link stands for. `until` is a whole minute."""

    notice: int
    alarm: int
    person: str
    until: Millis

    @property
    def id(self) -> str:
        """By which it is known whether it was used."""
        return f"{self.notice}.{self.alarm}.{self.person}"


def link_of(notice: Notice) -> Link | None:
    """The link that belongs into a notice: to the first of its alarms; None for one that tells of none."""
    if not notice.alarms:
        return None
    until = (notice.at + GOOD_FOR) // MINUTE * MINUTE
    return Link(notice.number, notice.alarms[0], notice.person, until)


def sealed(link: Link, key: bytes) -> str:
    """The link as it stands in an address: letters, digits, `-` and `_`; the same for the same link."""
    said = _HEAD.pack(link.notice, link.alarm, link.until // MINUTE) + link.person.encode()
    return base64.urlsafe_b64encode(_mac(said, key) + said).decode().rstrip("=")


def opened(text: str, key: bytes) -> Link | None:
    """The link that was sealed with this key; None for anything else, however broken."""
    if not text.isascii() or len(text) > _LONGEST:
        return None
    try:
        whole = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except (binascii.Error, ValueError):
        return None
    mac, said = whole[:_MAC], whole[_MAC:]
    if len(said) < _HEAD.size or not hmac.compare_digest(mac, _mac(said, key)):
        return None
    notice, alarm, minutes = _HEAD.unpack_from(said)
    return Link(notice, alarm, said[_HEAD.size :].decode(), minutes * MINUTE)


def address_of(notice: Notice, page: str | None, key: bytes) -> str | None:
    """Where a notice is answered: below the page's own address; None without one, or without an alarm to answer."""
    link = link_of(notice)
    if page is None or link is None:
        return None
    return f"{page.rstrip('/')}/alarms/{link.alarm}?by={sealed(link, key)}"


def _mac(said: bytes, key: bytes) -> bytes:
    return hmac.new(key, b"link:" + said, hashlib.sha256).digest()[:_MAC]
