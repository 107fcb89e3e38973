"""Each number that water and feed are told by says in its own docstring where it comes from, or that nobody knows."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "monitor"
FILES = [
    *(
        f"advice/{name}.py"
        for name in ("dryness", "feeding", "unusual", "weighing", "water", "amounts", "present")
    ),
    *(f"science/{name}.py" for name in ("feed", "water", "air", "clocks", "squeeze", "moisture", "correction")),
    "bed/drying.py",
    "masses.py",
    "reports/caring.py",
]
MARKS = (
    "seen", "memory", "common practice", "proposal", "derived", "definition", "ours", "measured", "simulated beds",
)  # fmt: skip


def numbers(file):
    """(names, docstring and line) of each assignment at the top of a module that holds a number."""
    text = (ROOT / file).read_text()
    body, lines = ast.parse(text).body, text.splitlines()
    for node, after in zip(body, [*body[1:], None], strict=True):
        if isinstance(node, ast.Assign | ast.AnnAssign) and any(
            isinstance(one, ast.Constant) and type(one.value) in (int, float) for one in ast.walk(node)
        ):
            said = (
                after.value.value if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant) else ""
            )
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            together = isinstance(after, ast.Assign | ast.AnnAssign)  # two that share the docstring of the second
            yield ast.unparse(target), said + "\n".join(lines[node.lineno - 1 : node.end_lineno]), together


@pytest.mark.parametrize("file", FILES)
def test_a_number_says_where_it_comes_from(file):
    found = list(numbers(file))
    for place, (name, said, together) in enumerate(found):
        shared = found[place + 1][1] if together and place + 1 < len(found) else ""
        assert any(mark in said + shared for mark in MARKS), f"{file}: {name} has neither source nor mark"


def test_there_are_such_numbers():
    assert 60 <= sum(len(list(numbers(file))) for file in FILES)
