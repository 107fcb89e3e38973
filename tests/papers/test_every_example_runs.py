"""Whatever a keeper may copy out of the papers works: settings are accepted, commands can be called, sums are right."""

import os
import re
import shlex
import subprocess

import pytest

from cli.backed_up import backed_up
from cli.keeping import NOW, Site, cold
from monitor.cli import main
from monitor.cli.calls import parser
from monitor.clock import WallClock
from monitor.settings import explain
from papers.reading import HOW_TOS, PAPERS, ROOT, accepted, added, blocks, data_of

FIRST = (ROOT / "config" / "one-bin.yaml").read_text(encoding="utf-8")
IDS = [paper.stem for paper in HOW_TOS]


@pytest.mark.parametrize("paper", HOW_TOS, ids=IDS)
def test_the_settings_of_a_how_to_are_accepted_and_do_what_it_says(paper, tmp_path):
    """Each piece is written into the file of one bin, or, when it has a name, into that file. What a `text` block
    says is what `vermistat check` says of everything so far.
    """
    settings, files = data_of(FIRST, tmp_path), {}
    for block in blocks(paper):
        where = f"{block.paper}:{block.line}"
        if block.language == "yaml":
            if block.title:
                files[block.title.replace("/", "-")] = block.text
            else:
                settings = added(settings, data_of(block.text, tmp_path))
                accepted(tmp_path / "pieces", {"settings.yaml": settings})
        elif block.language == "text":
            said = explain(accepted(tmp_path / "pieces", {"settings.yaml": settings}))
            assert [] == [line for line in block.text.splitlines() if line not in said], where
    if files:
        accepted(tmp_path / "files", files)


def lines(paper):
    """(line of the paper, command) of everything that is to be typed."""
    return [(b.line, line) for b in blocks(paper) if b.language == "sh" for line in b.text.splitlines() if line]


TYPED = [(paper, number, line) for paper in PAPERS for number, line in lines(paper)]


def test_there_are_lines_to_type():
    assert len(TYPED) >= 15


@pytest.mark.parametrize(("paper", "number", "line"), TYPED, ids=[f"{p.stem}:{n}-{line}" for p, n, line in TYPED])
def test_what_is_to_be_typed_can_be_typed(paper, number, line):
    done = subprocess.run(["sh", "-n", "-c", line], capture_output=True, text=True, check=False)
    assert (0, "") == (done.returncode, done.stderr)
    words = shlex.split(line.partition("#")[0])
    while words and "=" in words[0]:
        del words[0]
    if words[0].rpartition("/")[2] == "vermistat":
        parser().parse_args(words[1:])
    for word in words:
        if re.fullmatch(r"(config|deploy|tests)/[\w./-]+", word):
            assert (ROOT / word).exists()


def called(block):
    """The calls of a block that end by themselves and need a site. Those that need a server as well are called in
    tests/cli/test_a_database_is_set_up.py.
    """
    lines = [line for line in block.text.splitlines() if line.startswith("vermistat ")]
    return [
        line
        for line in lines
        if line.split()[1] not in ("run", "demo", "database", "publish") and "find" not in line.split()
    ]


CALLED = [block for paper in PAPERS for block in blocks(paper) if block.language == "sh" and called(block)]


@pytest.fixture
def site(tmp_path, monkeypatch):
    """The orchard of the tests, in which alarm 1 stands: fig is cold, and ana has been told."""
    monkeypatch.setattr(WallClock, "now", lambda self: NOW)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "old-logger.csv").write_text("time,value\n2025-06-01T12:00,20.5\n")
    (tmp_path / "other-logger.csv").write_text("When;Celsius\n01/06/2025 12:10;20,5\n")
    found = Site(tmp_path)
    with found.lived() as house:
        cold(house)
    backed_up(found)
    return found


@pytest.mark.parametrize("block", CALLED, ids=[f"{block.paper}:{block.line}" for block in CALLED])
def test_what_is_to_be_called_does_what_it_says(block, site, capsys):
    """In a site of which the how-tos' bins, people and alarm are part, with a round after each call."""
    for line in called(block):
        words = [word.replace("/mnt/stick", "stick") for word in shlex.split(line)[1:]]
        if "--settings" in words:  # where the settings lie is not theirs
            at = words.index("--settings")
            del words[at : at + 2]
        capsys.readouterr()
        code = site.call(*words)
        out, errors = capsys.readouterr()
        assert (0, "") == (code, errors), line
        assert out
        with site.lived() as house:
            house.at = NOW
            house.rounds.run()


def test_many_are_called():
    assert sum(len(called(block)) for block in CALLED) >= 20


@pytest.mark.parametrize("name", ["vermistat.yaml", "one-bin.yaml"])
def test_the_examples_beside_the_how_tos_are_checked_by_the_command_itself(name, capsys):
    assert 0 == main(["check", "--settings", str(ROOT / "config" / name)])
    assert capsys.readouterr().out.startswith("Accepted: ")


@pytest.mark.parametrize("paper", PAPERS, ids=[paper.stem for paper in PAPERS])
def test_every_sum_is_right(paper):
    """(500 − 440) / 500 = 12 %"""
    for a, b, c, per_cent in re.findall(r"\((\d+) − (\d+)\) / (\d+) = (\d+) %", paper.read_text(encoding="utf-8")):
        assert int(per_cent) == round(100 * (int(a) - int(b)) / int(c))
        assert a == c


@pytest.mark.parametrize("paper", HOW_TOS, ids=IDS)
def test_what_a_how_to_links_to_is_there(paper):
    links = re.findall(r"\]\(([^)#:]+)\)", paper.read_text(encoding="utf-8"))
    assert [] == [link for link in links if not os.path.exists(paper.parent / link)]


def test_the_readme_leads_to_every_how_to():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [] == [paper.name for paper in HOW_TOS if f"(config/how-to/{paper.name})" not in readme]


NEEDED = {
    "mats:": ("hardware thermostat of its own", "residual-current device", "Unplug the mat", "Never a blanket",
              "licensed electrician"),
    "move": ("two people or a",),
    "moisture:": ("Never", "FFP3", "sprinkled", "unplugged first"),
}  # fmt: skip
"""What must be said in a how-to whose settings hold these words."""


@pytest.mark.parametrize("paper", HOW_TOS, ids=IDS)
def test_cautions_stand_where_mains_heat_water_and_lifting_come_up(paper):
    text = " ".join(paper.read_text(encoding="utf-8").split())
    settings = "\n".join(block.text for block in blocks(paper) if block.language == "yaml")
    wanted = [said for word, needed in NEEDED.items() if word in settings for said in needed]
    assert [] == [said for said in wanted if said.lower() not in text.lower()]


def test_some_how_to_needs_each_of_the_cautions():
    settings = "\n".join(b.text for paper in HOW_TOS for b in blocks(paper) if b.language == "yaml")
    assert [] == [word for word in NEEDED if word not in settings]
