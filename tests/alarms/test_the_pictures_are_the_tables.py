"""The diagrams in the developers' guide are drawn from the tables: read back, they are the tables again."""

import re

import pytest

from monitor.alarms import causes, cycle, picture, quiet
from monitor.checks import delays


def read(drawing: str) -> tuple[dict[str, str], set[tuple[str, str, str]], str]:
    """States by name, arrows as (from, words, to), and where it starts."""
    states = {name: words for words, name in re.findall(r'^ +state "(.+)" as (\w+)$', drawing, re.MULTILINE)}
    arrows = {(a, words, b) for a, b, words in re.findall(r"^ +(\w+) --> (\w+): (.+)$", drawing, re.MULTILINE)}
    (start,) = re.findall(r"^ +\[\*\] --> (\w+)$", drawing, re.MULTILINE)
    assert len(states) + len(arrows) + 2 == len(drawing.splitlines())
    return states, arrows, start


def moves(table) -> set[tuple[str, str, str]]:
    return {(a.name, str(event), b.name) for (a, event), b in table.items()}


def by_itself(table, words: str) -> set[tuple[str, str, str]]:
    return {(a.name, words, b.name) for a, b in table.items()}


PICTURES = [
    (
        picture.condition,
        delays.PhaseName,
        moves(delays.MOVES) | by_itself(delays.FULL, "delay full"),
        "CLEAR",
    ),
    (
        picture.acknowledgement,
        cycle.State,
        moves(cycle.MOVES) | by_itself(cycle.SETTLES, "no acknowledgement needed"),
        "NORMAL",
    ),
    (picture.suppression, causes.Voice, moves(causes.MOVES), "TOLD"),
    (picture.shelf, quiet.OnShelf, moves(quiet.SHELF_MOVES) | by_itself(quiet.SHELF_ENDS, "time over"), "NO"),
    (
        picture.service,
        quiet.InService,
        moves(quiet.SERVICE_MOVES) | by_itself(quiet.SERVICE_ENDS, "time over"),
        "IN",
    ),
]


@pytest.mark.parametrize(
    ("draw", "states", "arrows", "start"), PICTURES, ids=["condition", "cycle", "voice", "shelf", "service"]
)
def test_a_picture_read_back_is_its_table(draw, states, arrows: set[tuple[str, str, str]], start: str):
    drawing = draw()
    assert drawing.startswith("stateDiagram-v2\n")
    assert ({s.name: str(s) for s in states}, arrows, start) == read(drawing)
