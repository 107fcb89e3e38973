"""The pinned lists: exact, hashed, of one mind, without an address."""

import re
import tomllib
from importlib.metadata import requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
LISTS = ROOT / "deploy" / "requirements"
NAMES = ("runtime", "demo", "test", "data")
PIN = re.compile(r"(?P<name>[a-z0-9][a-z0-9-]*)==(?P<version>\S+)(?: ; (?P<marker>.+?))? \\")
HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")


def pins(name):
    """Each pin as (name, version, marker) with how many hashes follow it."""
    found, last = {}, None
    for line in (LISTS / f"{name}.txt").read_text().splitlines():
        if pin := PIN.fullmatch(line):
            last = pin.group("name", "version", "marker")
            found[last] = 0
        else:
            assert HASH.fullmatch(line), f"{name}.txt: {line!r} is neither a pin nor a hash"
            found[last] += 1
    return found


def wanted(name):
    """What an input asks for, without comments."""
    lines = [x.split("#")[0].strip() for x in (LISTS / f"{name}.in").read_text().splitlines()]
    return [x for x in lines if x]


def plain(requirement):
    return re.split(r"[<>=!~\[ ]", requirement)[0].lower().replace("_", "-")


@pytest.mark.parametrize("name", NAMES)
def test_every_line_is_an_exact_version_with_its_hashes(name):
    assert all(count >= 1 for count in pins(name).values())
    assert pins(name)


def test_every_list_agrees_with_the_others_on_every_version():
    test, demo, runtime = (set(pins(n)) for n in ("test", "demo", "runtime"))
    assert runtime <= demo <= test


@pytest.mark.parametrize("name", NAMES)
def test_what_the_input_asks_for_is_in_the_list(name):
    asked = {plain(x) for x in wanted(name) if not x.startswith("-r ")}
    assert asked <= {n for n, _, _ in pins(name)}


def test_the_inputs_ask_for_what_the_project_says_it_needs():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["dependencies"] == wanted("runtime")
    assert ["-r runtime.in", *project["optional-dependencies"]["demo"]] == wanted("demo")


@pytest.mark.parametrize("path", sorted(LISTS.iterdir()), ids=lambda p: p.name)
def test_no_address_of_any_registry_is_written_down(path):
    text = path.read_text()
    assert not re.search(r"https?:|index-url|find-links|file:|trusted-host", text)


def needed(distribution, extras):
    """What an installed distribution needs here: pairs of a name and the extras asked of it (PEP 508)."""
    for line in requires(distribution) or ():
        requirement = Requirement(line)
        if any((requirement.marker is None) or requirement.marker.evaluate({"extra": x}) for x in extras or {""}):
            yield canonicalize_name(requirement.name), frozenset(requirement.extras)


@pytest.mark.parametrize("name", ["runtime", "demo", "test"])
def test_a_list_is_whole_because_nothing_beside_it_is_looked_for(name):
    listed = {Requirement(f"{n} ; {m}" if m else n) for n, _, m in pins(name)}
    todo = {(x.name, frozenset()) for x in listed if x.marker is None or x.marker.evaluate()}
    todo |= {(Requirement(x).name.lower(), frozenset(Requirement(x).extras)) for x in wanted(name) if x[0] != "-"}
    asked = set()
    while todo:
        asked.add(one := todo.pop())
        todo |= set(needed(*one)) - asked
    assert {n for n, _ in asked} <= {x.name for x in listed}
