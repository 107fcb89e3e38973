"""What is not whole is refused with nothing changed; what is put back is what it was; what lay there is kept."""

import contextlib
import os
import shutil
import sqlite3
import time

import pytest

from cli.backed_up import altered, backed_up, hashes_anew, manifest_of, of_a_newer_program
from cli.keeping import NOW
from cli.test_json_has_its_shape import fits
from monitor import restoring
from monitor.backing_up import looked_at, newest_in
from monitor.errors import StoreBroken, StoreError, StoreNewer, StoreTaken
from monitor.readings import MINUTE, Reading
from monitor.reports.backing import RestoreShape
from monitor.restoring import put_back
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.house import House

LATER = 7


def counted(path):
    with contextlib.closing(SqliteStore(path, read_only=True)) as store:
        return store.counted()


def more_kept(site):
    """What comes after the backup."""
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        store.keep(
            Batch([Reading("fig-west", NOW + n * MINUTE, 3.0, NOW + n * MINUTE) for n in range(1, LATER + 1)])
        )


@pytest.fixture
def lived(site):
    """A site with a backup, and seven readings since."""
    folder = backed_up(site)
    more_kept(site)
    return site, folder, counted(site.store_file)


def files_of(folder):
    return {
        p.name: p.read_bytes() for p in folder.iterdir() if p.is_file() and not p.name.endswith((".lock", "-shm"))
    }


def test_it_is_in_place_and_what_lay_there_is_kept(lived):
    site, folder, before = lived
    back = put_back(folder, looked_at(folder), site.store_file, at=NOW)
    assert before - LATER == counted(site.store_file)
    assert before == counted(back.kept)
    assert "kept.db.before-20261125T120000Z" == back.kept.name


def test_rounds_go_on_from_where_they_were_then(lived):
    site, folder, _ = lived
    put_back(folder, looked_at(folder), site.store_file, at=NOW)
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        house = House(rules=site.rules, store=store, at=NOW)
        standing = house.standing()
        assert ("fig", "cold") in standing
        house.later(15).say(fig_west=24.0, fig_east=24.0, plum_near=18.0)
        assert standing.keys() <= house.standing().keys()


def test_what_a_killed_daemon_left_in_its_wal_is_kept_with_what_lay_there(lived):
    site, folder, before = lived

    def work(say):
        store = SqliteStore(site.store_file)
        store.keep(Batch([Reading("fig-west", NOW + 10**8, 4.0, NOW + 10**8)]))
        say("kept")
        time.sleep(60)

    with child(work) as one:
        assert "kept\n" == one.lines.readline()
    assert site.store_file.with_name("kept.db-wal").stat().st_size > 0
    back = put_back(folder, looked_at(folder), site.store_file, at=NOW)
    assert before + 1 == counted(back.kept)
    assert before - LATER == counted(site.store_file)


def test_a_store_that_is_damaged_gives_way_and_is_kept_byte_by_byte(lived):
    site, folder, _ = lived
    body = b"no database " * 300
    site.store_file.write_bytes(body)
    site.store_file.with_name("kept.db-wal").write_bytes(b"nor a log")
    back = put_back(folder, looked_at(folder), site.store_file, at=NOW)
    assert body == back.kept.read_bytes()
    assert b"nor a log" == back.kept.with_name(back.kept.name + "-wal").read_bytes()
    assert not site.store_file.with_name("kept.db-wal").exists()
    assert counted(site.store_file) > 0


def test_where_nothing_lay_nothing_is_kept(lived):
    site, folder, before = lived
    for file in site.folder.glob("kept.db*"):
        file.unlink()
    assert put_back(folder, looked_at(folder), site.store_file, at=NOW).kept is None
    assert before - LATER == counted(site.store_file)


def test_the_key_of_the_page_goes_because_numbers_begin_again(lived):
    site, folder, _ = lived
    key = site.store_file.with_suffix(".key")
    key.write_bytes(b"k" * 32)
    put_back(folder, looked_at(folder), site.store_file, at=NOW)
    assert not key.exists()


def test_while_a_daemon_holds_it_it_is_refused(lived):
    site, folder, before = lived
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        with pytest.raises(StoreTaken, match="end it first"):
            put_back(folder, looked_at(folder), site.store_file, at=NOW)
        assert before == store.counted()
    assert not list(site.folder.glob("kept.db.*[!k]"))


@pytest.mark.parametrize("where", ["before it is put aside", "after it is put aside", "after it is in place"])
def test_killed_at_any_step_there_is_one_of_the_two(lived, monkeypatch, where):
    site, folder, before = lived

    def work(say):
        def dies(*_, **__):
            say("killed")
            os.kill(os.getpid(), 9)

        name = {"before it is put aside": "link", "after it is put aside": "replace", "after it is in place": ""}[
            where
        ]
        if name:
            monkeypatch.setattr(os, name, dies)
        else:
            monkeypatch.setattr(restoring, "synced", lambda path: path.is_dir() and dies())
        put_back(folder, looked_at(folder), site.store_file, at=NOW)

    with child(work) as one:
        assert "killed\n" == one.lines.readline()
    assert (before - LATER if where == "after it is in place" else before) == counted(site.store_file)
    put_back(folder, looked_at(folder), site.store_file, at=NOW)
    assert before - LATER == counted(site.store_file)
    assert before in [counted(one) for one in site.folder.glob("kept.db.before-*") if "-wal" not in one.name]


# What is refused


def every_so_many(path, count):
    size = path.stat().st_size
    return range(0, size, max(size // count, 1))


def test_wherever_a_bit_of_any_file_is_another_it_is_refused_and_nothing_is_changed(lived):
    site, folder, _ = lived
    lies = files_of(site.folder)
    tried = 0
    for file in [folder / "store.db", folder / "settings" / "vermistat.yaml"]:
        for place in every_so_many(file, 40):
            altered(file, place)
            with pytest.raises(StoreBroken, match="not what was written"):
                looked_at(folder)
            altered(file, place)  # the same bit once more: as it was
            tried += 1
    assert tried >= 80
    looked_at(folder)
    assert lies == files_of(site.folder)


def test_a_damaged_store_is_refused_even_if_its_hash_was_made_to_fit(lived):
    _, folder, _ = lived
    with contextlib.closing(sqlite3.connect(folder / "store.db")) as file:
        (page,) = file.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'diary_at'").fetchone()
    body = bytearray((folder / "store.db").read_bytes())
    body[(page - 1) * 1024 : (page - 1) * 1024 + 16] = b"\xaa" * 16
    (folder / "store.db").write_bytes(body)
    hashes_anew(folder)
    with pytest.raises(StoreBroken, match="damaged"):
        looked_at(folder)


def test_one_of_a_newer_program_is_refused_with_what_to_do(lived):
    _, folder, _ = lived
    of_a_newer_program(folder)
    with pytest.raises(StoreNewer, match=r"made by a newer Vermistat \(0\.1\.0\): install that one"):
        looked_at(folder)


def test_a_store_of_something_else_is_refused(lived):
    _, folder, _ = lived
    with contextlib.closing(sqlite3.connect(folder / "store.db")) as file:
        file.execute("PRAGMA application_id = 7")
    hashes_anew(folder)
    with pytest.raises(StoreError, match="something else"):
        looked_at(folder)


def test_the_newest_of_a_folder_is_meant_and_one_that_is_half_made_is_none(site):
    first = backed_up(site)
    second = backed_up(site, at=NOW + 1000)
    shutil.copytree(second, second.with_name("vermistat-orchard-20991231T000000Z.partial"))
    assert second == newest_in(site.folder / "stick", "orchard")
    assert first == newest_in(first, "orchard")
    assert manifest_of(first).made_at < manifest_of(second).made_at


def test_what_is_said_as_json_is_its_shape_and_says_what_was_done(lived, capsys):
    site, folder, before = lived
    site.file.write_text(site.file.read_text() + "# a line more\n")
    looked = site.tells(capsys, "restore", str(site.folder / "stick"), "--only-look")
    fits(looked, RestoreShape)
    assert (False, None, ["vermistat.yaml"]) == (looked["restored"], looked["kept"], looked["settings_differ"])
    assert before == counted(site.store_file)
    done = site.tells(capsys, "restore", str(folder))
    fits(done, RestoreShape)
    assert (True, str(site.store_file)) == (done["restored"], done["store"])
    assert (before, before - LATER) == (counted(site.folder / done["kept"]), counted(site.store_file))


def test_in_sentences_it_says_where_what_lay_there_is_and_which_settings_are_others(lived, capsys):
    site, folder, _ = lived
    site.file.write_text(site.file.read_text() + "# a line more\n")
    said = site.says(capsys, "restore", str(folder))
    assert f"{folder} is whole: made 2026-11-25 12:00 by Vermistat 0.1.0." in said
    assert f"What lay there is kept as {site.store_file}.before-20261125T120000Z" in said
    assert "Another than then: vermistat.yaml" in said
