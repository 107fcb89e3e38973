"""One file for each way in which an outdoor forecast can be bad, under fixtures/mistakes/outdoors, with exactly what is kept and
said of it (`parts.weathered` has the form).
"""

from pathlib import Path

import pytest

from parts.mistaken import MONITOR, unreached, unshown, walked
from parts.weather_service import WeatherService
from parts.weathered import outcome, read

FOLDER = Path(__file__).parents[2] / "fixtures" / "mistakes" / "outdoors"
CASES = {path.stem: read(path.read_text()) for path in sorted(FOLDER.glob("*.txt"))}
TOLD = [line for case in CASES.values() for line in case.expected]
ROOM = [
    MONITOR / "intake" / "outdoors.py",
    MONITOR / "outdoors" / "asking.py",
    MONITOR / "reports" / "outdoors.py",
    MONITOR / "bed" / "outside.py",
]


@pytest.fixture(scope="module")
def server():
    with WeatherService() as found:
        yield found


@pytest.mark.parametrize("name", CASES)
def test_what_comes_becomes_what_its_file_says(name, server, monkeypatch):
    assert CASES[name].expected == outcome(CASES[name], server, monkeypatch)
    assert CASES[name].expected


def test_there_are_enough_of_them_and_no_two_alike():
    assert len(CASES) >= 60
    texts = [path.read_text() for path in FOLDER.glob("*.txt")]
    assert len(texts) == len(set(texts))


def test_none_holds_the_address_and_none_is_told_with_two_full_stops():
    assert [] == [line for line in TOLD if "s3cret" in line or "127.0.0.1" in line or ".." in line]


def test_none_is_told_of_a_probe():
    assert [] == [line for line in TOLD if "probe" in line]


@pytest.mark.parametrize("path", ROOM, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_every_sentence_of_the_room_is_shown_by_some_file(path):
    assert [] == unshown(path, TOLD)


@pytest.fixture(scope="module")
def lines(server):
    """Every line of ours that runs while all the files arrive."""
    with walked(MONITOR) as found, pytest.MonkeyPatch.context() as patched:
        for case in CASES.values():
            outcome(case, server, patched)
    return found


@pytest.mark.parametrize("path", ROOM, ids=lambda path: f"{path.parent.name}.{path.stem}")
def test_every_place_that_refuses_is_reached_by_some_file(path, lines):
    assert [] == unreached(path, {"Refused", "BadValue"}, set(), lines=lines)
