"""Whatever letter of a manifest is another, it is refused, and nothing of it is believed."""

import json

import pytest

from monitor.backups import File, Manifest, understood, written
from monitor.errors import StoreBroken, StoreNewer

MANIFEST = Manifest(
    site="orchard",
    made_at=1_795_600_000_000,
    program="0.1.0",
    schema=9,
    rows={"arrived": 3, "reading": 40, "diary": 2},
    first=1_795_000_000_000,
    last=None,
    files=(File("store.db", 1024, "ab" * 32), File("settings/vermistat.yaml", 7, "cd" * 32)),
    secrets=("phone-url",),
)


def test_it_comes_back_as_it_was_written():
    assert MANIFEST == understood(written(MANIFEST), "it")
    assert 43 == MANIFEST.readings
    assert ("vermistat.yaml",) == MANIFEST.settings


def test_no_sign_of_it_can_be_another_unless_it_means_the_same():
    text = written(MANIFEST)
    for place, sign in enumerate(text):
        other = text[:place] + chr(ord(sign) ^ 1) + text[place + 1 :]
        try:
            found = understood(other, "it")
        except (StoreBroken, StoreNewer):
            continue
        assert found == MANIFEST, f"changed at {place}"


def test_cut_short_anywhere_it_is_refused():
    text = written(MANIFEST).rstrip()
    for length in range(len(text)):
        with pytest.raises(StoreBroken):
            understood(text[:length], "it")


def test_one_of_a_newer_format_is_refused_as_newer():
    facts = json.loads(written(MANIFEST)) | {"format": 2, "more": "that we do not know"}
    with pytest.raises(StoreNewer, match="newer Vermistat"):
        understood(json.dumps(facts), "it")


@pytest.mark.parametrize("name", ["../elsewhere", "/etc/passwd", "settings/../../x"])
def test_one_that_names_a_file_outside_of_itself_is_refused(name):
    outside = Manifest(
        **{**{f: getattr(MANIFEST, f) for f in MANIFEST.__slots__}, "files": (File(name, 1, "00"),)}
    )
    with pytest.raises(StoreBroken, match="outside"):
        understood(written(outside), "it")
