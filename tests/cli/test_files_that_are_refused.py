"""While the files are refused, the commands go by the settings in force, and say so."""

import pytest

from cli.keeping import Site, cold

SAID = "vermistat: the files are refused, `vermistat check` says why; this goes by settings 1, in force.\n"


@pytest.fixture
def site(tmp_path, noon):
    site = Site(tmp_path)
    with site.lived() as house:
        site.taken_up(store=house.store)
        cold(house)
    return site


def spoil(site, old="species: eisenia-fetida", new="species: dragon"):
    site.file.write_text(site.file.read_text().replace(old, new))


def asked(site, capsys, *words):
    capsys.readouterr()
    code = site.call(*words)
    return code, *capsys.readouterr()


@pytest.mark.parametrize("words", [("now",), ("alarms",), ("why", "1"), ("seen", "1", "--as", "ana")])
def test_what_is_asked_is_answered_as_before(site, capsys, words):
    before = asked(site, capsys, *words)
    spoil(site)
    code, out, errors = asked(site, capsys, *words)
    assert (0, SAID) == (code, errors)
    assert before[1].splitlines()[0] == out.splitlines()[0]


def test_check_and_the_daemon_still_refuse_them(site, capsys):
    spoil(site)
    assert 78 == asked(site, capsys, "check")[0]
    assert 78 == asked(site, capsys, "run")[0]


def test_a_file_that_cannot_be_read_at_all_leads_to_the_only_store_there_is(site, capsys, monkeypatch, tmp_path):
    state = tmp_path / "state"
    state.mkdir()
    site.store_file.rename(state / "orchard.db")
    monkeypatch.setenv("STATE_DIRECTORY", str(state))
    site.file.write_text("site: {id: orchard\nbins")
    assert (0, SAID) == asked(site, capsys, "now")[::2]


def test_without_a_store_the_mistakes_are_told(tmp_path, noon, capsys):
    site = Site(tmp_path)
    spoil(site)
    code, errors = site.refuses(capsys, "now")
    assert 78 == code
    assert "'dragon' is no species we know." in errors


def test_with_two_stores_nobody_knows_which(site, capsys, monkeypatch, tmp_path):
    state = tmp_path / "state"
    state.mkdir()
    site.store_file.rename(state / "orchard.db")
    (state / "other.db").write_bytes(b"")
    monkeypatch.setenv("STATE_DIRECTORY", str(state))
    site.file.write_text("site: {id: orchard\nbins")
    assert 78 == asked(site, capsys, "now")[0]
