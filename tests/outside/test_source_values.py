"""Values printed in papers, tables, data sheets and standards, asked of the product one by one.

The rows stand in fixtures/sources, each with its source and mark. The product has never seen them.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from monitor.errors import BadValue
from monitor.intake.payloads.parts import Refused
from outside.runners import RUNNERS

ROOT = Path(__file__).parents[2]
FILES = sorted((ROOT / "fixtures" / "sources").glob("*.json"))
ROWS = [row for file in FILES for row in json.loads(file.read_text())["values"]]
MARKS = {"seen", "seen-2nd", "memory", "derived", "common practice", "proposal"}
REFUSALS = (BadValue, Refused)


def answered(row):
    """The product's answer, `refused` when it will have none of it."""
    try:
        return RUNNERS[row["what"]](**row["input"])
    except REFUSALS:
        return "refused"


def agrees(expected, answer, tolerance):
    if isinstance(expected, list) and isinstance(answer, list):
        pairs = zip(expected, answer, strict=False)
        return len(expected) == len(answer) and all(agrees(e, a, tolerance) for e, a in pairs)
    if is_number(expected) and is_number(answer) and tolerance != "exact":
        return abs(expected - answer) <= tolerance
    return expected == answer and is_number(expected) == is_number(answer)


def is_number(thing):
    return isinstance(thing, int | float) and not isinstance(thing, bool)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_the_product_says_what_the_source_prints(row, record_property):
    assert row["what"] in RUNNERS, f"{row['id']}: nothing knows how to ask for {row['what']!r}"
    answer = answered(row)
    assert agrees(row["expected"], answer, row["tolerance"]), (
        f"{row['id']}: {row['source']} says {row['expected']!r} (± {row['tolerance']}), the product {answer!r}"
    )
    record_property("source value", [row["source"], row["mark"]])


def test_every_row_is_whole():
    for row in ROWS:
        assert set(row) == {"id", "what", "input", "expected", "tolerance", "source", "mark"}
        assert row["mark"] in MARKS
        assert row["tolerance"] == "exact" or row["tolerance"] > 0
        assert len(row["source"]) > 12, f"{row['id']} does not say where it comes from"


def test_every_row_has_its_own_id():
    assert [] == [name for name, count in Counter(row["id"] for row in ROWS).items() if count > 1]


def test_no_runner_is_left_without_a_row():
    assert set(RUNNERS) == {row["what"] for row in ROWS}


def test_at_least_fifty_rows_agree_and_at_least_sixty_were_read_at_their_source():
    assert sum(agrees(row["expected"], answered(row), row["tolerance"]) for row in ROWS) >= 50
    assert sum(row["mark"] in ("seen", "seen-2nd") for row in ROWS) >= 60


@pytest.mark.parametrize(
    ("expected", "answer", "tolerance"),
    [
        (75.0, 75.2, 0.1),
        (75.0, "refused", 0.1),
        ("refused", 75.0, "exact"),
        (0, None, "exact"),
        (0, False, "exact"),
        (True, 1, "exact"),
        ([1, 2], [1], 0.1),
        ([1.0, True], [1.0, False], 0.1),
        (75.0, float("nan"), 0.1),
        (None, 0.0, 0.1),
    ],
)
def test_an_answer_that_is_not_the_printed_one_is_told_apart(expected, answer, tolerance):
    assert not agrees(expected, answer, tolerance)


def test_no_module_of_the_product_knows_these_files():
    for module in (ROOT / "monitor").rglob("*.py"):
        text = module.read_text()
        assert "fixtures" not in text, f"{module.name} speaks of fixtures"
        assert not any(file.name in text for file in FILES), f"{module.name} names a file of source values"
