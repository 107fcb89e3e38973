"""One file a mistake under fixtures/mistakes/wire, each with exactly what becomes of it (`parts.wired` has the form)."""

from pathlib import Path

import pytest

from monitor.readings import RefusalKind
from parts.mistaken import MONITOR, unreached, unshown, walked
from parts.wired import outcome, read

FOLDER = Path(__file__).parents[2] / "fixtures" / "mistakes" / "wire"
CASES = {path.stem: read(path.read_text()) for path in sorted(FOLDER.glob("*.txt"))}
TOLD = [line for case in CASES.values() for line in case.expected]
ROOM = [
    *sorted((MONITOR / "intake" / "payloads").glob("*.py")),
    MONITOR / "intake" / "working.py",
    MONITOR / "intake" / "publishers.py",
]


@pytest.mark.parametrize("name", CASES)
def test_what_arrives_becomes_what_its_file_says(name):
    case = CASES[name]
    assert case.expected == outcome(case)
    assert case.expected


def test_there_are_enough_of_them_and_no_two_alike():
    assert len(CASES) >= 150
    texts = [
        (
            case.payload,
            case.topic,
            tuple(case.probes),
            tuple(case.bins),
            tuple(case.publishers),
            case.retained,
            case.backlog,
        )
        for case in CASES.values()
    ]
    assert len(texts) == len({repr(text) for text in texts})


@pytest.mark.parametrize(
    "kind", sorted(set(RefusalKind) - {RefusalKind.FAULT})
)  # nobody's mistake but ours: test_pump.py
def test_every_kind_of_refusal_is_shown_by_some_file(kind):
    assert any(f": {kind}: " in line for line in TOLD if line.startswith("refused "))


def test_every_refusal_is_a_sentence_that_says_what_to_do():
    reasons = {line.split(": ", 2)[2] for line in TOLD if line.startswith("refused ")}
    assert [] == [
        reason for reason in reasons if not (reason[0].isupper() or reason[0].isdigit() or reason[0] in "“-`")
    ]
    assert [] == [reason for reason in reasons if reason[-1] not in ".?"]
    assert [] == [reason for reason in reasons if len(reason) > 200 or not reason.isprintable()]


@pytest.mark.parametrize("path", ROOM, ids=lambda path: path.stem)
def test_every_sentence_of_the_decoder_is_shown_by_some_file(path):
    assert [] == unshown(path, TOLD)


@pytest.fixture(scope="module")
def lines():
    """Every line of the decoder that runs while all the files arrive."""
    with walked(MONITOR / "intake") as found:
        for case in CASES.values():
            outcome(case)
    return found


@pytest.mark.parametrize("path", ROOM, ids=lambda path: path.stem)
def test_every_place_that_refuses_is_reached_by_some_file(path, lines):
    raises, calls = {"Refused", "_no_time", "_no_record"}, {"_refuse"}
    assert [] == unreached(path, raises, calls, lines=lines)
