"""What the papers show is what the program does."""

import re
from pathlib import Path

import pytest

from monitor.alarms import picture
from monitor.rules import Bedding
from monitor.science.squeeze import BANDS, SAID, Feel
from monitor.settings import explain, load

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text, language):
    return re.findall(rf"^ *```{language}\n(.*?)^ *```", text, re.MULTILINE | re.DOTALL)


def test_the_first_settings_of_the_readme_are_accepted(tmp_path):
    (block,) = blocks(README, "yaml")
    lines = block.splitlines()
    margin = min(len(line) - len(line.lstrip()) for line in lines)
    file = tmp_path / "vermistat.yaml"
    file.write_text("\n".join(line[margin:] for line in lines), encoding="utf-8")
    settings = load([file], environ={"VERMISTAT_PHONE_URL": "json://127.0.0.1/"})
    assert ["fig"] == list(settings.rules.bins)
    assert len(lines) <= 10
    assert any("fig" in line for line in explain(settings))


@pytest.mark.parametrize("drawing", ["condition", "acknowledgement", "suppression", "shelf", "service"])
def test_the_drawings_are_those_of_the_tables(drawing):
    assert getattr(picture, drawing)().strip() in {block.strip() for block in blocks(DEVELOPERS, "mermaid")}


def test_every_room_stands_in_the_house_that_is_drawn():
    (house,) = [b for b in blocks(DEVELOPERS, "text") if b.startswith("monitor/")]
    rooms = {p.name for p in (ROOT / "monitor").iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()}
    missing = {room for room in rooms - {"__init__.py"} if room not in house}
    assert set() == missing


def test_what_the_readme_links_to_is_there():
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert links
    assert [] == [link for link in links if not (ROOT / link).exists()]


@pytest.mark.parametrize("paper", ["README.md", "DEVELOPERS.md"])
def test_every_path_a_paper_names_is_there(paper):
    named = re.findall(
        r"`((?:config|deploy|fixtures|monitor|tests)/[\w./-]+)`", (ROOT / paper).read_text(encoding="utf-8")
    )
    assert [] == [path for path in named if "NAME" not in path and not (ROOT / path).exists()]


def test_the_table_of_squeezes_is_the_products_own():
    text = (ROOT / "config" / "how-to" / "moisture.md").read_text(encoding="utf-8")
    for feel in Feel:
        kinds = (Bedding.PAPER, Bedding.COIR, Bedding.COMPOST, Bedding.MIXED)
        bands = [BANDS[kind][feel] for kind in kinds]
        shown = [f"{b.low:g} to {b.high:g} %" if b.low else f"up to {b.high:g} %" for b in bands]
        does = SAID[feel]
        assert f"| `{feel}` | {does} | {' | '.join(shown)} |" in text
    assert BANDS[Bedding.PAPER] == BANDS[Bedding.MANURE]
    assert BANDS[Bedding.COIR] == BANDS[Bedding.PEAT]
