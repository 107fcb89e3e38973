"""A link is for one person, one alarm, until a time; nobody makes or changes one without the key."""

import base64
import hashlib
import hmac
import struct
from dataclasses import replace

import pytest

from monitor.notify.links import GOOD_FOR, Link, address_of, link_of, opened, sealed
from monitor.readings import HOUR, MINUTE
from parts.posting import NOW, letter

KEY, OTHER = b"k" * 32, b"o" * 32
LINK = Link(7, 3, "ana", NOW // MINUTE * MINUTE)


def with_alarms(*alarms):
    return replace(letter(7, "phone"), alarms=alarms)


def test_a_link_is_read_back_as_it_was_sealed():
    assert LINK == opened(sealed(LINK, KEY), KEY)


def test_the_seal_is_hmac_sha_256_cut_to_128_bits():
    """RFC 2104 by Python's own hmac and hashlib, put together here once more."""
    said = struct.pack(">III", 7, 3, LINK.until // MINUTE) + b"ana"
    mac = hmac.digest(KEY, b"link:" + said, hashlib.sha256)[:16]
    assert base64.urlsafe_b64encode(mac + said).decode().rstrip("=") == sealed(LINK, KEY)


@pytest.mark.parametrize("text", ["", "a", "x" * 500, "é", "AAAA", "A" * 60, "=" * 8, "../..", " "])
def test_nothing_else_is_read(text):
    assert None is opened(text, KEY)


def test_no_bit_can_be_changed():
    whole = base64.urlsafe_b64decode(sealed(LINK, KEY) + "==")
    for at in range(len(whole) * 8):
        bent = bytearray(whole)
        bent[at // 8] ^= 1 << at % 8
        assert None is opened(base64.urlsafe_b64encode(bytes(bent)).decode().rstrip("="), KEY), at


def test_another_key_opens_nothing():
    assert None is opened(sealed(LINK, OTHER), KEY)


def test_a_notice_leads_to_the_first_of_its_alarms_for_two_days():
    assert 48 * HOUR == GOOD_FOR
    assert Link(7, 3, "keeper", (NOW + 48 * HOUR) // MINUTE * MINUTE) == link_of(with_alarms(3, 5))


def test_a_second_try_to_send_carries_the_same_link():
    first, again = (address_of(with_alarms(3), "https://bins.example/", KEY) for _ in range(2))
    assert first == again and first.startswith("https://bins.example/alarms/3?by=")


def test_there_is_no_link_where_the_page_cannot_be_reached_or_nothing_is_to_be_answered():
    assert None is address_of(with_alarms(3), None, KEY)
    assert None is address_of(with_alarms(), "https://bins.example", KEY)
