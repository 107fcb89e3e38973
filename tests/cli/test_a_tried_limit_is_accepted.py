"""`vermistat replay --set`: one limit tried on the past, shown as a change of the file, and written once it is accepted."""

import os
from pathlib import Path

import pytest

from cli.keeping import NOW, Site, to_noon
from monitor.accepting import LIMITS_CHANGED, accept, at_whose_wish
from monitor.changing import taking_of
from monitor.errors import RequestError, SettingsError
from monitor.settings import load
from monitor.settings.wishes import bins_that_differ, profiles_of, wish_of, wished
from monitor.store.memory import MemoryStore
from monitor.store.promises import Request
from monitor.store.sqlite import SqliteStore
from parts.orchard import ms

NIGHT = {"fig_mat": 24.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}
LOWER = "fig.temperature.comfort=18..29 °C"


@pytest.fixture
def site(tmp_path, noon):
    return Site(tmp_path, began="2026-11-25T06:00")


@pytest.fixture
def lived(site):
    """A cold morning, and a good day after it."""
    with site.lived() as house:
        while house.at < ms("09:00"):
            house.say(fig_west=19.0, fig_east=19.5, **NIGHT)
            house.later(15)
        to_noon(house, fig_west=23.0, fig_east=23.0, **NIGHT)
    return site


def would(site, *texts, file=None):
    settings = load([file or site.file], environ={})
    wishes = [wish_of(text, settings.rules, profiles_of(settings)) for text in texts]
    return settings, wished(settings, wishes, environ={})


def test_it_is_tried_and_shown_and_nothing_is_changed(lived, capsys):
    before = lived.file.read_bytes(), sorted(one for one in os.listdir(lived.folder) if "kept.db" not in one)
    said = lived.says(capsys, "replay", "--set", LOWER, "--days", "1")
    assert "Only by the limits in force:\n  Fig: too cold, " in said
    assert "vermistat.yaml, line 28:\n  + limits" in said
    assert "Nothing was changed. With --accept this is written." in said
    assert before == (
        lived.file.read_bytes(),
        sorted(one for one in os.listdir(lived.folder) if "kept.db" not in one),
    )


def test_accepted_it_stands_in_the_file_and_nothing_else_does(lived, capsys):
    before = lived.file.read_text()
    facts = lived.tells(
        capsys, "replay", "--set", LOWER, "--days", "1", "--accept", "--as", "ana", "it", "slept", "well"
    )
    after = lived.file.read_text()
    line = "    limits: {temperature: {comfort: 18..29 °C}}\n"
    assert before == after.replace(line, "", 1) != after
    assert ("ana", "it slept well") == (facts["accepted"]["who"], facts["accepted"]["why"])
    (kept,) = facts["accepted"]["kept"]
    assert before == Path(kept).read_text()
    assert (18.0, 29.0) == tuple(b.value for b in _comfort(load([lived.file], environ={}).rules, "fig"))


def _comfort(rules, bed):
    from monitor.readings import Measures

    limits = rules.bins[bed].limits[Measures.TEMPERATURE]
    return limits.low, limits.high


def test_who_and_why_are_recorded_with_the_version_and_in_the_diary(lived, capsys):
    site = lived
    site.says(capsys, "replay", "--set", LOWER, "--days", "1", "--accept", "--as", "ana", "too", "many", "nights")
    store = SqliteStore(site.store_file)
    settings = load([site.file], environ={})
    (asked,) = store.asked()
    store.take_up(taking_of(load_before(site), store, at=NOW))
    taken = store.take_up(taking_of(settings, store, at=NOW + 1, asked=store.asked()))
    assert ("ana", "too many nights") == (taken.who, taken.why)
    assert [("fig", "comfort from", 21.0, 18.0)] == [(a.bin, a.limit, a.old, a.new) for a in taken.amendments]
    store.close()
    assert (LIMITS_CHANGED, NOW) == (asked.what, asked.at)
    assert "by ana: too many nights." in site.says(capsys, "settings")
    site.rules = settings.rules
    with site.lived() as house:
        house.at = NOW
        house.restart(settings.rules)
        house.say(fig_west=23.0)
        (entry,) = house.store.diary(1)
    assert ("limits changed", "bin:fig", "ana") == (str(entry.deed), entry.subject, entry.who)
    assert "fig.temperature.comfort=18..29 °C; too many nights" == entry.text


def load_before(site):
    (kept,) = [one for one in site.folder.iterdir() if ".before-" in one.name]
    copy = site.folder / "earlier" / "vermistat.yaml"
    copy.parent.mkdir(exist_ok=True)
    copy.write_bytes(kept.read_bytes())
    (copy.parent / "mail-url").write_bytes((site.folder / "mail-url").read_bytes())
    return load([copy], environ={})


def test_what_would_be_refused_is_refused_before_it_is_written(site):
    with pytest.raises(SettingsError, match="lies inside the comfort band"):
        would(site, "fig.temperature.comfort=10..29 °C")
    with pytest.raises(SettingsError, match="low is not below high"):
        would(site, "fig.temperature.comfort=29..18 °C")
    with pytest.raises(SettingsError, match="not a temperature"):
        would(site, "fig.temperature.comfort=20..80 %")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fog.temperature.comfort=18..29 °C", "did you mean|Did you mean fig"),
        ("fig.temprature.comfort=18..29 °C", "Did you mean temperature"),
        ("fig.temperature.comfrt=18..29 °C", "Did you mean comfort"),
        ("fig.wset.temperature.comfort=18..29 °C", "Did you mean west"),
        ("fig.temperature.comfort", "write for example"),
        ("fig.temperature.comfort=[a, b]", "cannot be written"),
        ("fig.temperature.comfort=18..29 °C lasting 2 h", "belongs to a harm"),
        ("fig.temperature.harm.below=14 °C", "say which with `lasting`|is harm"),
        ("site.temperature.harm.below=14 °C", "differs from bin to bin"),
        ("profiles.row.temperature.comfort=18..29 °C", "no bin of the settings"),
    ],
)
def test_what_cannot_be_meant_is_said_and_nothing_is_left(site, text, said):
    before = site.file.read_bytes()
    with pytest.raises(RequestError, match=said):
        would(site, text)
    assert before == site.file.read_bytes()


@pytest.mark.parametrize(
    ("text", "bins"),
    [
        (LOWER, {"fig"}),
        ("fig.west.temperature.comfort=20..29 °C", {"fig"}),
        ("fig.temperature.deadband=2 °C", {"fig"}),
        ("plum.temperature.comfort_delay=3 h", {"plum"}),
        ("plum.moisture.off_delay=20 min", {"plum"}),
        ("site.moisture.deadband=2.5", {"fig", "plum"}),
        ("plum.temperature.harm.above=34 °C", {"plum"}),
    ],
)
def test_the_limits_change_there_and_nowhere_else(site, text, bins):
    settings, change = would(site, text)
    assert bins == bins_that_differ(settings.rules, change.settings.rules)
    (edit,) = change.edits
    assert 1 == len(list(edit.lines()))


def test_one_harm_of_several_is_changed_in_a_list_that_holds_all_of_them(site):
    settings, change = would(site, "fig.temperature.harm.below=13 °C lasting 4 h")
    from monitor.readings import Measures

    before, after = (s.rules.bins["fig"].limits[Measures.TEMPERATURE].harm for s in (settings, change.settings))
    as_plain = [[(h.below, round(h.bound.value, 3), h.lasting) for h in hs] for hs in (before, after)]
    differ = [(a, b) for a, b in zip(*as_plain, strict=True) if a != b]
    assert len(differ) == 1
    assert 13.0 == differ[0][1][1]
    assert differ[0][0][2] == differ[0][1][2]
    site.file.write_bytes(change.edits[0].after)
    _, again = would(site, "fig.temperature.harm.below=12.5 °C lasting 4 h")
    (line,) = again.edits[0].lines()
    assert line[1].replace("13 °C", "12.5 °C") == line[2], "written once, one number is changed in it"


def test_both_ends_in_one_keep_the_other_end(site):
    text = site.file.read_text().replace(
        "    species: eisenia-fetida", "    limits: {temperature: {harm: 3..35 °C}}\n    species: eisenia-fetida"
    )
    site.file.write_text(text)
    _, change = would(site, "plum.temperature.harm.below=2 °C")
    assert "harm: 2 °C..35 °C" in change.edits[0].after.decode()
    _, change = would(site, "plum.temperature.harm.above=34 °C")
    assert "harm: 3 °C..34 °C" in change.edits[0].after.decode()


def test_a_bin_of_a_profile_gets_its_own_limit_and_its_zone_does_not(tmp_path):
    file = tmp_path / "farm.yaml"
    file.write_text(
        "site: {id: farm}\nprofiles:\n  row:\n    bins: [row-1..row-3]\n    species: eisenia-fetida\n"
        "    zones: {bed: {probes: {<bin>-t: {measures: temperature, topic: probes/<bin>}}}}\n"
    )
    settings, change = would(None, "row-2.temperature.comfort=12..25 °C", file=file)
    assert {"row-2"} == bins_that_differ(settings.rules, change.settings.rules)
    settings, change = would(None, "profiles.row.temperature.comfort=12..25 °C", file=file)
    assert {"row-1", "row-2", "row-3"} == bins_that_differ(settings.rules, change.settings.rules)
    with pytest.raises(RequestError, match="its profile has"):
        would(None, "row-2.bed.temperature.comfort=12..25 °C", file=file)


def test_of_several_files_the_one_is_changed_in_which_the_bin_is_written(site):
    text = site.file.read_text()
    plum = text[text.index("  plum:\n") : text.index("people:\n")]
    (site.folder / "more").mkdir()
    other = site.folder / "more" / "plum.yaml"
    other.write_bytes(b"\xef\xbb\xbf" + f"bins:\n{plum}".replace("\n", "\r\n").encode())
    site.file.write_text("include: more\n" + text.replace(plum, ""))
    before, first = other.read_bytes(), site.file.read_bytes()
    settings, change = would(site, "plum.temperature.comfort=12..25 °C", "fig.temperature.deadband=2 °C")
    done = accept(MemoryStore(), settings.rules, change, who="ana", why="", at=NOW)
    assert [site.file, other] == list(done.files)
    line = b"    limits: {temperature: {comfort: 12..25 \xc2\xb0C}}\r\n"
    assert before == other.read_bytes().replace(line, b"") != other.read_bytes()
    assert first != site.file.read_bytes()
    assert [first, before] == [kept.read_bytes() for kept in done.kept]
    assert load([site.file], environ={}).rules == change.settings.rules, "what is kept beside is not read"


def test_a_file_that_changed_meanwhile_is_not_overwritten(site):
    settings, change = would(site, LOWER)
    site.file.write_text(site.file.read_text() + "# mine\n")
    mine, store = site.file.read_bytes(), MemoryStore()
    with pytest.raises(RequestError, match="was changed meanwhile"):
        accept(store, settings.rules, change, who="ana", why="", at=NOW)
    assert (mine, []) == (site.file.read_bytes(), store.asked())
    with pytest.raises(RequestError, match="changed a moment ago"):
        wished(settings, change.wishes, environ={})


def test_a_file_that_may_not_be_written_is_left(site, monkeypatch):
    settings, change = would(site, LOWER)
    before, listed, store = (
        site.file.read_bytes(),
        sorted(one for one in os.listdir(site.folder) if "kept.db" not in one),
        MemoryStore(),
    )
    monkeypatch.setattr(os, "access", lambda path, mode: str(path) != str(site.file.resolve()))
    with pytest.raises(RequestError, match="may not be written"):
        accept(store, settings.rules, change, who="ana", why="", at=NOW)
    assert (before, listed, []) == (
        site.file.read_bytes(),
        sorted(one for one in os.listdir(site.folder) if "kept.db" not in one),
        store.asked(),
    )


def test_a_disk_that_fails_leaves_every_file_as_it_was(site, monkeypatch):
    settings, change = would(site, LOWER)
    before, store = site.file.read_bytes(), MemoryStore()

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(RequestError, match=r"\(no space left on device\); nothing was changed"):
        accept(store, settings.rules, change, who="ana", why="", at=NOW)
    assert (before, []) == (site.file.read_bytes(), store.asked())
    assert not [one for one in site.folder.iterdir() if "before" in one.name or ".vermistat" in one.name]


def test_a_link_stays_a_link_and_the_mode_stays(site, tmp_path):
    real = tmp_path / "elsewhere.yaml"
    real.write_bytes(site.file.read_bytes())
    real.chmod(0o640)
    site.file.unlink()
    site.file.symlink_to(real)
    settings, change = would(site, LOWER)
    accept(MemoryStore(), settings.rules, change, who="ana", why="", at=NOW)
    assert site.file.is_symlink()
    assert 0o640 == real.stat().st_mode & 0o777
    assert b"18..29" in real.read_bytes()


def test_what_stands_already_is_nothing_to_accept(site):
    settings, change = would(site, LOWER)
    site.file.write_bytes(change.edits[0].after)
    settings, change = would(site, LOWER)
    with pytest.raises(RequestError, match="say that already"):
        accept(MemoryStore(), settings.rules, change, who="ana", why="", at=NOW)


def test_the_word_about_other_settings_is_nobodys(site):
    word = Request(1, NOW, "ana", LIMITS_CHANGED, 0, "why", '{"digest": "a"}')
    assert ("ana", "why") == at_whose_wish([word], "a")
    assert at_whose_wish([word], "b") is None
    assert at_whose_wish([Request(1, NOW, "ana", LIMITS_CHANGED, 0, "", "nonsense")], "a") is None


def test_what_another_file_says_is_not_accepted(site, capsys):
    code, errors = site.refuses(capsys, "replay", "--with", str(site.file), "--accept")
    assert 0 != code
    assert "name the limit with --set" in errors
