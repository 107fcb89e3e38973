"""What becomes of a notice in a text message: 3GPP TS 23.038 (GSM 03.38), sections 6.1.2.1 and 6.2.1 [memory].

140 octets are 160 septets of the default alphabet, or 70 characters of UCS-2 as soon as one character is not in it; joined
messages lose 7 septets or 3 characters each to their header (TS 23.040 [memory]). Neither the degree
sign nor the backtick is in it.
"""

import pytest

from parts.letters import LETTERS, written

GSM = (
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿"
    "abcdefghijklmnopqrstuvwxyzäöñüà"
)
"""The default alphabet without its escape: 127 characters of one septet."""
EXTENDED = "^{}\\[~]|€\f"
"""Two septets each."""


def septets(text):
    """How many septets a text takes, None when UCS-2 is needed."""
    if any(c not in GSM and c not in EXTENDED for c in text):
        return None
    return sum(2 if c in EXTENDED else 1 for c in text)


def parts(text):
    """How many messages it is sent as."""
    count = septets(text)
    one, joined, length = (70, 67, len(text)) if count is None else (160, 153, count)
    return 1 if length <= one else -(-length // joined)


def test_the_table_is_whole():
    assert 127 == len(GSM) == len(set(GSM))
    assert (160, None, 2) == (septets("a" * 160), septets("21 °C"), septets("€"))
    assert (1, 2, 1, 2) == (parts("a" * 160), parts("a" * 161), parts("°" * 70), parts("°" * 71))


@pytest.mark.parametrize("name", LETTERS)
def test_the_first_line_fits_into_two_messages_and_into_one_where_no_degree_is_told(name):
    title = written(name).splitlines()[0]
    assert parts(title) <= (1 if septets(title) is not None else 2)
    plain = title.replace("°", "").replace("`", "'").replace("−", "-").replace("…", "...").replace("²", "2")
    assert septets(plain) is not None
    assert parts(plain) == 1


@pytest.mark.parametrize("name", LETTERS)
def test_cut_at_160_characters_the_first_line_is_whole(name):
    text = written(name)
    assert text[:160].startswith(text.splitlines()[0])
