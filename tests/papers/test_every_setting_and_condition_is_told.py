"""Nothing can be set, and nothing can be the matter, that the papers do not tell."""

import re
from enum import Enum

import pytest

from monitor.checks.findings import Condition
from monitor.settings import fields
from monitor.settings.schema import FileShape
from monitor.settings.shape import _inner, _is_model
from papers.reading import ROOT

SETTINGS = (ROOT / "config" / "how-to" / "settings.md").read_text(encoding="utf-8")
ALARMS = ROOT / "config" / "how-to" / "alarms.md"


def shapes(kind=FileShape, path=()):
    """Each shape of the schema and the path where it comes first, with ID for an id."""
    if _is_model(kind):
        yield kind, ".".join(path)
        for name in kind.model_fields:
            yield from shapes(_inner(kind, name), (*path, name))
    elif getattr(kind, "__origin__", None) is dict:
        yield from shapes(_inner(kind, "x"), (*path, "ID"))
    elif getattr(kind, "__origin__", None) is list:
        yield from shapes(_inner(kind, 0), path)


FIRST = {}
for shape, where in shapes():
    FIRST.setdefault(shape, where)


def section(path):
    """The rows of the table below the heading that begins with a path: {key: the rest of its row}."""
    title = "## The whole file" if not path else f"## `{path}`"
    found = re.search(rf"^{re.escape(title)}[^\n]*\n(.*?)(?=^## |\Z)", SETTINGS, re.MULTILINE | re.DOTALL)
    assert found, f"settings.md has no section {title}"
    return dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", found.group(1), re.MULTILINE))


@pytest.mark.parametrize("shape", FIRST, ids=lambda shape: FIRST[shape] or "file")
def test_every_key_has_its_row_and_no_row_is_about_nothing(shape):
    rows = section(FIRST[shape])
    assert set(shape.model_fields) == set(rows)
    for key, field in shape.model_fields.items():
        assert len(rows[key].split(" | ")) == 2, key
        if field.examples:
            assert "must be there" in rows[key], key


ENUMS = {
    kind
    for kind in vars(fields).values()
    if isinstance(kind, type) and issubclass(kind, Enum) and kind is not Enum
}


@pytest.mark.parametrize("kind", sorted(ENUMS, key=lambda kind: kind.__name__), ids=lambda kind: kind.__name__)
def test_every_word_that_can_be_chosen_is_told(kind):
    assert [] == [m.value for m in kind if not re.search(rf'`"?{re.escape(str(m.value))}"?`', SETTINGS)]


def test_every_condition_has_its_part():
    titles = re.findall(r"^### (.+)$", ALARMS.read_text(encoding="utf-8"), re.MULTILINE)
    assert sorted(str(condition) for condition in Condition) == sorted(titles)


def test_a_key_that_is_not_told_is_found_out():
    """The control: a shape with one more key."""

    class More(FileShape):
        colour: str = "red"

    assert {"colour"} == set(More.model_fields) - set(section(""))


CHOSEN = [
    (shape, key, field.default)
    for shape in FIRST
    for key, field in shape.model_fields.items()
    if isinstance(field.default, Enum)
]


@pytest.mark.parametrize(("shape", "key", "default"), CHOSEN, ids=[f"{FIRST[s]}.{k}" for s, k, _ in CHOSEN])
def test_what_holds_without_a_key_is_what_the_schema_says(shape, key, default):
    _, without = section(FIRST[shape])[key].split(" | ")
    assert f"`{default.value}`" in without


def test_there_are_defaults_to_look_at():
    assert len(CHOSEN) >= 6
