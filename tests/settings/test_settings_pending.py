"""The list of keys without effect is held to what the other rooms really use."""

import ast
from dataclasses import fields
from functools import cache
from pathlib import Path

import pytest

from monitor.rules import Bin, Energy, Mat, Person, Place, Point, Probe, Site, Source, Vessel, Zone
from monitor.settings.pending import PENDING, sentence_for

ROOT = Path(__file__).parents[2] / "monitor"
NOT_COUNTED = ("settings", "simulator", "rules.py")

KEPT_FOR_LATER = {(Vessel, "cover")}
"""Fields of the rules that a pending key fills. `id` and `name` are everywhere and prove nothing."""
SHARED_NAMES = {"id", "name", "kind", "cover"}


@cache
def used_attributes():
    """Every attribute that any room reads: its name, and of `vessel.x` both names."""
    names, of_vessel = set(), set()
    for path in ROOT.rglob("*.py"):
        if path.relative_to(ROOT).parts[0] in NOT_COUNTED:
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Attribute):
                names.add(node.attr)
                inner = node.value
                if getattr(inner, "attr", getattr(inner, "id", "")) == "vessel":
                    of_vessel.add(node.attr)
    return names, of_vessel


def is_used(kind, name):
    names, of_vessel = used_attributes()
    return name in (of_vessel if kind is Vessel else names)


@pytest.mark.parametrize(("kind", "name"), sorted(KEPT_FOR_LATER, key=str))
def test_what_the_list_calls_without_effect_is_used_by_no_room(kind, name):
    """When this fails, something has begun to work: take its row out of the table and out of this test."""
    assert not is_used(kind, name)


@pytest.mark.parametrize("kind", [Bin, Energy, Mat, Person, Place, Point, Probe, Site, Source, Vessel, Zone])
def test_whatever_is_not_on_the_list_is_used_by_some_room(kind):
    """When this fails, a key does nothing and the keeper is not told so: put it on the list."""
    for field in fields(kind):
        if (kind, field.name) not in KEPT_FOR_LATER and field.name not in SHARED_NAMES:
            assert is_used(kind, field.name), f"{kind.__name__}.{field.name}"


def test_each_field_kept_for_later_has_its_row_and_its_sentence():
    patterns = {pattern for pattern, _ in PENDING}
    assert "bins.*.vessel.cover" in patterns
    assert sentence_for("bins.fig.vessel.cover") == dict(PENDING)["bins.*.vessel.cover"]
    with pytest.raises(KeyError):
        sentence_for("bins.fig.species")
