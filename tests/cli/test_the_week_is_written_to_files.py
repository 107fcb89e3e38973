"""`vermistat week`: on the terminal, as a page that needs nothing else, and as pictures; of this week and of one before."""

import base64
import io
import json
import re

import pytest
from PIL import Image


@pytest.fixture
def week(cold_site, capsys):
    return lambda *words: cold_site.says(capsys, "week", "--of", "2026-11-25", *words)


def test_the_terminal_tells_each_bin_in_a_sentence_and_what_to_look_at(week):
    said = week()
    assert said.startswith("Orchard shed: the week of 23 to 29 November 2026, so far\n")
    assert re.search(r"\nFig\n  16\.0 °C to 16\.5 °C, coldest Wed 08:00; ", said)
    assert "To look at next week" in said


def test_a_page_is_written_whole_and_holds_its_pictures_itself(tmp_path, week):
    file = tmp_path / "week.html"
    assert f"Written: {file}." in week("--html", str(file))
    page = file.read_text()
    assert "http" not in page and "<script" not in page
    assert "Orchard shed: the week of 23 to 29 November 2026, so far" in page
    found = re.findall(r'src="data:image/png;base64,([^"]+)"', page)
    assert found
    for one in found:
        with Image.open(io.BytesIO(base64.b64decode(one))) as picture:
            picture.load()
            assert 1080 == picture.width


def test_pictures_are_written_one_a_bin_and_the_same_each_time(tmp_path, week):
    said = week("--png", str(tmp_path))
    files = sorted(tmp_path.glob("*.png"))
    assert "fig.png" in {file.name for file in files}
    assert all(str(file) in said for file in files)
    before = {file.name: file.read_bytes() for file in files}
    week("--png", str(tmp_path))
    assert before == {file.name: file.read_bytes() for file in files}


def test_json_goes_with_files(tmp_path, week):
    told = json.loads(week("--json", "--html", str(tmp_path / "week.html")))
    assert "23 to 29 November 2026" == told["days"]
    assert (tmp_path / "week.html").exists()


def test_a_bin_of_which_nothing_was_heard_has_no_picture_and_says_so(tmp_path, cold_site, capsys):
    said = cold_site.says(capsys, "week", "--of", "2026-10-20", "--png", str(tmp_path / "none"))
    assert "Written" not in said
    assert "No temperature is known" in said


def test_a_place_that_cannot_be_written_to_is_said(tmp_path, cold_site, capsys):
    where = tmp_path / "no" / "week.html"
    code, said = cold_site.refuses(capsys, "week", "--html", str(where))
    assert (1, True) == (code, f"{where} cannot be written" in said)
