"""Files made to hurt are refused within a small budget of processor time and memory, which the kernel holds."""

import os
import resource
from datetime import date
from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.settings import load

SECONDS, BYTES = 6, 600 * 1024 * 1024
"""What one process may use for the reading and the refusal. A file of the largest size is read in about a second."""
TODAY = date(2026, 11, 25)

LONG = 3_000_000
HOSTILE = {
    "brackets": ("[" * 100_000, "levels deep"),
    "dashes": ("- " * 100_000, "levels deep"),
    "braces": ("{a: " * 5_000, "levels deep"),
    "both": ("a: {" + "b: [" * 10_000, "levels deep"),
    "question marks": ("? " * 10_000, "A list or mapping stands where a key should"),
    "aliases that multiply": ("a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\n", "Anchors"),
    "an alias to itself": ("a: &a [*a]\n", "Anchors"),
    "many anchors": ("a: [" + "&a x," * 500_000 + "]", "Anchors"),
    "merge keys that multiply": ("a: &a {x: 1}\nb: {<<: [*a, *a, *a]}\n", "Anchors"),
    "an open quote": ("a: " + "'" * 99_999, "not closed"),
    "an open block": ("a: |\n" + " x\n" * 700_000, "'a' is not known here"),
    "empty lines": ("\n" * LONG + "a: @", "cannot begin"),
    "a huge number": ("site: {id: orchard}\nbins: {fig: {bedding: " + "9" * LONG + "}}", "is too large"),
    "a huge key": ("k" * LONG + ": 1", "A ':' stands where none can"),
    "a huge key with a question mark": ("? " + "k" * LONG + "\n: 1", "is not known here"),
    "many keys": ("\n".join(f"k{n}: 1" for n in range(40_000)), "is not known here"),
    "many times one key": ("\n".join("k: 1" for n in range(40_000)), "is written twice"),
    "many documents": ("--- a\n" * 500_000, "A second document"),
    "many probes": ("bins: {fig: {zones: {w: {probes: {" + ",".join(f"p{n}: x" for n in range(9_000)) + "}}}}}",
                    "Keys are expected here"),
    "many items": ("bins: {fig: {can: [" + "x, " * 40_000 + "]}}", "'x' is not known here"),
    "a tag that calls": ("a: !!python/object/apply:os.system [true]\n", "Tags"),
    "many tags": ("a: " + "!!float " * 100_000, "Tags"),
    "a comment": ("#" * LONG, "The file is empty"),
    "escapes": ('a: "' + "\\x41" * 700_000 + '"', "'a' is not known here"),
    "an escape that is none": ('a: "' + "\\q" * 700_000 + '"', "means nothing"),
    "half a character": ('a: "\\ud800"', "means nothing"),
    "spaces": ("a:" + " " * LONG + "@", "cannot begin"),
    "tabs": ("a:" + "\t" * LONG + "@", "cannot begin"),
    "ranges that multiply": (
        "site: {id: orchard}\nprofiles: {row: {species: eisenia-fetida, zones: {a: {probes: {<bin>-a: {measures: temperature, "
        "topic: <bin>}}}}, bins: [" + ", ".join(f"r{n:04}-0000..r{n:04}-9999" for n in range(1_000)) + "]}}\n",
        "More than 10,000 bins",
    ),
    "a range of a huge number": (
        "site: {id: orchard}\nprofiles: {row: {bins: row-" + "1" * 6_000 + "..row-" + "2" * 6_000 + "}}\n",
        "neither an id nor a range",
    ),
    "zones that multiply": (
        "site: {id: orchard}\nprofiles: {row: {bins: row-0001..row-9999, species: eisenia-fetida, zones: {"
        + ", ".join(f"z{n}: {{probes: {{<bin>-{n}: {{measures: temperature, topic: <bin>/{n}}}}}}}" for n in range(500))
        + "}}}\n",
        "More than",
    ),
    "far to the right": (" " * LONG + "a: b", "'a' is not known here"),
}  # fmt: skip


def bounded(work):
    """What `work` returns, done by a forked process within the budget; None when it was ended for want of it."""
    heard, mouth = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(heard)
        taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (taken + BYTES, taken + BYTES))
        try:
            os.write(mouth, work().encode()[:60_000])
            os._exit(0)
        finally:
            os._exit(70)
    os.close(mouth)
    with os.fdopen(heard, encoding="utf-8", errors="replace") as answer:
        said = answer.read()
    return said if os.waitpid(pid, 0)[1] == 0 else None


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_refused_as_what_it_is(name, tmp_path):
    text, words = HOSTILE[name]
    file = tmp_path / "s.yaml"
    file.write_text(text)

    def refused():
        try:
            load([file], environ={}, today=TODAY)
        except SettingsError as error:
            return "\n".join(error.mistakes)
        return "accepted"

    said = bounded(refused)
    assert said is not None
    assert words in said
    assert len(said.splitlines()) <= 201


def spins():
    while True:
        pass


@pytest.mark.parametrize("work", [spins, lambda: str(len(bytearray(10**9)))], ids=["time", "memory"])
def test_the_budget_is_held(work, monkeypatch):
    """The control: who wants more is ended."""
    monkeypatch.setitem(globals(), "SECONDS", 1)
    assert bounded(work) is None


def test_what_keeps_within_it_is_heard():
    assert "done" == bounded(lambda: "done")
