"""Files made to hurt are refused within a small budget of processor time and memory, which the kernel holds."""

import resource
import subprocess
import sys

import pytest

SECONDS, BYTES = 8, 700 * 1024 * 1024
"""Of one process: its start, the reading, and the refusal. A file of the largest size is read in about a second."""

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
    "far to the right": (" " * LONG + "a: b", "'a' is not known here"),
}  # fmt: skip


def bounded():
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))


@pytest.mark.parametrize("name", HOSTILE)
def test_it_is_refused_as_what_it_is(name, tmp_path):
    text, said = HOSTILE[name]
    file = tmp_path / "s.yaml"
    file.write_text(text)
    ended = subprocess.run(
        [sys.executable, "-m", "monitor", "check", "--settings", str(file)],
        capture_output=True, text=True, preexec_fn=bounded, check=False,
    )  # fmt: skip
    assert 78 == ended.returncode, ended.stderr[-500:]
    assert said in ended.stderr
    assert "Traceback" not in ended.stderr


def test_the_budget_is_held():
    """The control: a process that wants more is ended."""
    for greedy in ("while True: pass", "x = bytearray(10**9)"):
        code = f"import resource; resource.setrlimit(resource.RLIMIT_CPU, (1, 1)); {greedy}"
        assert 0 != subprocess.run([sys.executable, "-c", code], preexec_fn=bounded, check=False).returncode
