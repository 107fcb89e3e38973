"""Everything with which a tried limit is refused: what was asked, and the whole sentence. No file of settings alone brings
these about, so they are held here and not under fixtures/mistakes.
"""

import os
import re
from pathlib import Path

import pytest

from monitor.errors import RequestError
from monitor.settings import load, writing
from monitor.settings.wishes import Edit, profiles_of, wish_of, wished
from monitor.settings.writing import write
from parts.mistaken import sentences, shown

MONITOR = Path(__file__).parents[2] / "monitor"
HEAD = "site: {id: yard}\nbroker: {url: mqtt://127.0.0.1}\n"
PROBE = "{probes: {w: {measures: temperature, topic: t/w}}}"
FIG = "bins: {{fig: {{species: eudrilus-eugeniae, limits: {{temperature: {{{limits}}}}}, zones: {{west: {probe}}}}}}}\n"


def fig(limits):
    return HEAD + FIG.format(limits=limits, probe=PROBE)


PLAIN = HEAD + f"bins: {{fig: {{species: eudrilus-eugeniae, zones: {{west: {PROBE}}}}}}}\n"
FOLDED = HEAD + (
    "bins:\n  fig:\n    species: eudrilus-eugeniae\n    limits:\n      temperature:\n        comfort: >-\n"
    f"          20..28 °C\n    zones: {{west: {PROBE}}}\n"
)
PROFILED = HEAD + (
    "profiles:\n  row: {species: eisenia-fetida, zones: {west: {probes: {<bin>-w: {measures: temperature, topic: t/<bin>}}}}}\n"
    "bins:\n  fig: {like: row}\n"
)
BY_HAND = "this file is written so that it can only be changed by hand here"

REFUSED = [
    (PLAIN, "fig", "'fig' is no limit with a value; write for example fig.temperature.comfort='20..28 °C'"),
    (PLAIN, "fig.temperature.colour=3", "'colour' is nothing that can be tried. Did you mean comfort?"),
    (PLAIN, "fig.colour.comfort=3", "'colour' has no limits. Known"),
    (PLAIN, "fig.temperature.comfort={a}", "'{a}' cannot be written into the settings; write it as it stands there: 20..28 °C"),
    (PLAIN, "fog.temperature.deadband=2", "no bin of the settings is called 'fog'. Did you mean fig?"),
    (PLAIN, "fig.attic.temperature.deadband=2", "fig has no zone 'attic'. Known"),
    (PLAIN, "fig.temperature.deadband=2 lasting 4 h", "deadband lasts as long as it does; `lasting` belongs to a harm"),
    (
        FOLDED,
        "fig.temperature.comfort=18..28 °C",
        f"FILE: {BY_HAND}. Write fig.temperature.comfort yourself",
    ),
    (
        PROFILED,
        "fig.west.temperature.deadband=2",
        "fig has no zone of its own in the files; its profile has, or the bin as a whole can",
    ),
    (
        fig("harm: 12..34 °C"),
        "fig.temperature.harm.below=14 °C lasting 4 h",
        "harm is written there as both ends in one, which all last as long; write them apart first",
    ),
    (
        fig("harm: [{below: 12 °C, lasting: 2 h}]"),
        "fig.temperature.harm.below=14 °C lasting 5 h",
        "no harm below like that is written there, only below 12 °C lasting 2 h",
    ),
    (
        fig("harm: [{below: 15 °C, lasting: 2 h}, {below: 12 °C}]"),
        "fig.temperature.harm.below=14 °C",
        "several are written there (below 15 °C lasting 2 h, below 12 °C); say which with `lasting`, as in '14 °C lasting 4 h'",
    ),
    (
        PLAIN,
        "site.temperature.harm.below=3 °C",
        "no harm is written there, and what holds differs from bin to bin; try it for one bin",
    ),
    (
        PLAIN,
        "fig.temperature.harm.below=14 °C",
        "below there is harm at 15 °C lasting 4 h, 12 °C; say which with `lasting`, as in '14 °C lasting 4 h'",
    ),
]  # fmt: skip


def tried(file, text, wish):
    file.write_text(text)
    settings = load([file], environ={})
    return wished(settings, [wish_of(wish, settings.rules, profiles_of(settings))], environ={})


def told_of(attempt):
    with pytest.raises(RequestError) as refused:
        attempt()
    return str(refused.value)


@pytest.mark.parametrize(("text", "wish", "sentence"), REFUSED, ids=[wish for _, wish, _ in REFUSED])
def test_what_cannot_be_tried_is_said_and_nothing_is_changed(tmp_path, text, wish, sentence):
    file = tmp_path / "yard.yaml"
    told = told_of(lambda: tried(file, text, wish)).replace(str(file), "FILE")
    assert sentence == told if not sentence.endswith("Known") else told.startswith(sentence)
    assert [file] == list(tmp_path.iterdir()) and text == file.read_text()


def of_a_file_that_is_not_what_it_was(folder):
    """Sentences about a settings file that changed, went, or is no text any more since it was loaded."""
    file = folder / "yard.yaml"
    file.write_text(PLAIN)
    settings = load([file], environ={})
    wishes = [wish_of("fig.temperature.deadband=2", settings.rules)]
    file.write_text(PLAIN + "# more\n")
    yield told_of(lambda: wished(settings, wishes, environ={}))
    file.write_bytes(b"\xff")
    yield told_of(lambda: wished(settings, wishes, environ={}))
    file.unlink()
    yield told_of(lambda: wished(settings, wishes, environ={}))


def test_a_file_that_is_not_what_it_was_is_left_alone(tmp_path):
    assert [
        "the settings were changed a moment ago; look at them again",
        "yard.yaml is not UTF-8 any more",
        "yard.yaml cannot be read (no such file or directory)",
    ] == [one.replace(f"{tmp_path}/", "") for one in of_a_file_that_is_not_what_it_was(tmp_path)]


def of_what_cannot_be_written(folder, monkeypatch):
    """Sentences about a file that may not, or cannot, be written. Root may write everything, so it is told that it may not."""
    file = folder / "yard.yaml"
    edit = Edit(file, b"before", b"after")
    yield told_of(lambda: write([], 0))
    yield told_of(lambda: write([edit], 0))
    file.write_bytes(b"other")
    yield told_of(lambda: write([edit], 0))
    file.write_bytes(b"before")
    for denied in (file, folder):
        with monkeypatch.context() as patch:
            patch.setattr(os, "access", lambda path, _mode, denied=denied: Path(path) != denied.resolve())
            yield told_of(lambda: write([edit], 0))
    with monkeypatch.context() as patch:
        patch.setattr(writing, "range", lambda _n: (), raising=False)
        yield told_of(lambda: write([edit], 0))
    assert b"before" == file.read_bytes()


def test_what_cannot_be_written_is_said_and_nothing_is_changed(tmp_path, monkeypatch):
    assert [
        "the files say that already, so there is nothing to accept",
        "FOLDER/yard.yaml cannot be read (no such file or directory)",
        "FOLDER/yard.yaml was changed meanwhile; look at it again, and try again",
        "FOLDER/yard.yaml may not be written by whoever runs this: change it yourself, as shown",
        "nothing may be written in FOLDER by whoever runs this: change the file yourself, as shown",
        "FOLDER/yard.yaml could not be written (too many earlier files are kept there); nothing was changed",
    ] == [one.replace(str(tmp_path), "FOLDER") for one in of_what_cannot_be_written(tmp_path, monkeypatch)]


NO_REASON = {"no reason given", "not a file", "at once"}
"""Where the system names no reason; and a word of a value, not of a refusal."""


@pytest.mark.parametrize("name", ["editing", "wishes", "writing"])
def test_every_sentence_is_among_them(tmp_path, monkeypatch, name):
    told = [sentence for _, _, sentence in REFUSED]
    told += [*of_a_file_that_is_not_what_it_was(tmp_path), *of_what_cannot_be_written(tmp_path, monkeypatch)]
    unseen = [
        "".join(piece or "…" for piece in pieces)
        for _, pieces in sentences(MONITOR / "settings" / f"{name}.py")
        if not shown(pieces, told) and "".join(p or "" for p in pieces) not in NO_REASON
    ]
    assert [] == unseen
    assert re.search(r"raise (RequestError|BadValue)", (MONITOR / "settings" / f"{name}.py").read_text())
