"""One moment of the store, whole, while others write; or none at all, and nothing left behind."""

import contextlib
import os
import sqlite3
import threading

import pytest

from cli.backed_up import altered, backed_up, manifest_of
from cli.keeping import NOW
from monitor import backing_up
from monitor.addresses import Backup
from monitor.backing_up import back_up, looked_at
from monitor.errors import RequestError, StoreBroken, StoreFull
from monitor.readings import MINUTE, Reading
from monitor.settings import load
from monitor.store import copying
from monitor.store.copying import Ended, copy, look_into
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.loop_disk import fill, formatted, mounted


def rows(path):
    with contextlib.closing(sqlite3.connect(path)) as file:
        tables = [name for (name,) in file.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
        return {t: file.execute(f"SELECT * FROM {t} ORDER BY 1, 2").fetchall() for t in tables}


def readings(first, count):
    return [Reading("fig-west", first + n * MINUTE, 20 + n % 7, first + n * MINUTE) for n in range(count)]


def wish_of(site, **more):
    stick = site.folder / "stick"
    stick.mkdir(exist_ok=True)
    return Backup(str(stick), same_disk=True, **more)


def made(site, wish=None, *, at=NOW, **how):
    settings = load([site.file], environ={})
    return back_up(settings, site.store_file, wish or wish_of(site), at=at, program="0.1.0", **how)


def left_in(folder):
    return sorted(one.name for one in folder.iterdir() if not one.name.endswith(".lock"))


def test_it_holds_row_by_row_what_the_store_holds_and_the_settings(site):
    folder = backed_up(site)
    assert rows(site.store_file) == rows(folder / "store.db")
    assert site.file.read_bytes() == (folder / "settings" / "vermistat.yaml").read_bytes()
    assert ["manifest.json", "settings", "store.db"] == left_in(folder)
    assert manifest_of(folder) == looked_at(folder)
    assert ("mail-url",) == manifest_of(folder).secrets
    assert b"the-word-nobody-reads" not in b"".join(p.read_bytes() for p in folder.rglob("*") if p.is_file())


def test_what_lies_in_the_wal_alone_is_in_it(site):
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        store.keep(Batch(readings(NOW, 50)))
        assert site.store_file.with_name("kept.db-wal").stat().st_size > 0
        folder = backed_up(site)
        assert store.counted() == manifest_of(folder).readings


def test_whoever_writes_meanwhile_does_not_wait_and_is_not_seen(site, monkeypatch):
    monkeypatch.setattr(copying, "STEP", 4)
    with contextlib.closing(SqliteStore(site.store_file, busy_ms=0)) as store:
        store.keep(Batch(readings(NOW, 500)))
        before = store.counted()
        steps = iter(range(10**6))
        # with `busy_ms` 0 a writer that finds the file locked fails at once instead of waiting
        wrote = lambda: store.keep(Batch(readings(NOW + 10**9 + next(steps) * 10**8, 3)))  # noqa: E731
        found = made(site, rest=wrote)
        written = next(steps)
        assert written > 10
        assert before == found.manifest.readings == look_into(found.folder / "store.db").readings
        assert before + 3 * written == store.counted()


def test_a_thread_that_writes_as_fast_as_it_can_is_kept_whole(site, monkeypatch):
    monkeypatch.setattr(copying, "STEP", 8)
    stop, kept = threading.Event(), []
    with contextlib.closing(SqliteStore(site.store_file)) as store:

        def write():
            while not stop.is_set():
                store.keep(Batch(readings(NOW + (len(kept) + 1) * 10**8, 10)))
                kept.append(store.counted())

        writer = threading.Thread(target=write)
        writer.start()
        try:
            found = [made(site, at=NOW + second * 1000).manifest.readings for second in range(5)]
        finally:
            stop.set()
            writer.join()
        assert sorted(found) == found
        assert all((count - found[0]) % 10 == 0 for count in found), "no batch is in it by halves"
        assert len(kept) > 5


def test_a_page_of_the_store_that_is_damaged_is_found_out_and_no_backup_is_left(site):
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        store.keep(Batch(readings(NOW, 3000)))
    with contextlib.closing(sqlite3.connect(site.store_file)) as file:
        file.execute("PRAGMA journal_mode = DELETE")
        (page,) = file.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'request_open'").fetchone()
    body = bytearray(site.store_file.read_bytes())
    body[(page - 1) * 1024 : (page - 1) * 1024 + 64] = b"\xaa" * 64
    site.store_file.write_bytes(body)
    with pytest.raises(StoreBroken, match="damaged"):
        made(site)
    assert [] == left_in(site.folder / "stick")


def test_a_disk_that_gives_back_something_else_is_found_out_and_no_backup_is_left(site, monkeypatch):
    whole = backing_up.written

    def spoilt(manifest):
        altered(site.folder / "stick" / "vermistat-orchard-20261125T120000Z.partial" / "store.db", 5000)
        return whole(manifest)

    monkeypatch.setattr(backing_up, "written", spoilt)  # between the hashes and the second reading
    with pytest.raises(StoreBroken, match="not what was written"):
        made(site)
    assert [] == left_in(site.folder / "stick")


def test_ended_in_the_middle_it_leaves_nothing_behind(site, monkeypatch):
    monkeypatch.setattr(copying, "STEP", 4)
    asked = iter([True, True, False])
    with pytest.raises(Ended):
        made(site, going_on=lambda: next(asked))
    assert [] == left_in(site.folder / "stick")


def test_what_one_that_was_killed_left_behind_is_removed_by_the_next(site, monkeypatch):
    monkeypatch.setattr(copying, "STEP", 4)

    def work(say):
        def rest():
            say("in the middle")
            os.kill(os.getpid(), 9)

        made(site, rest=rest)

    with child(work) as one:
        assert "in the middle\n" == one.lines.readline()
    assert ["vermistat-orchard-20261125T120000Z.partial"] == left_in(site.folder / "stick")
    assert "vermistat-orchard-20261125T120001Z" == made(site, at=NOW + 1000).folder.name
    assert ["vermistat-orchard-20261125T120001Z"] == left_in(site.folder / "stick")


def test_older_ones_are_removed_and_nothing_that_is_not_ours(site):
    wish = wish_of(site, days=2, weeks=0)
    (site.folder / "stick" / "photos").mkdir()
    (site.folder / "stick" / "vermistat-quay-20200101T000000Z").mkdir()
    (site.folder / "stick" / "vermistat-orchard-20200101T000000Z").write_text("a file, no folder")
    for day in range(4):
        last = made(site, wish, at=NOW + day * 86_400_000)
    assert ("vermistat-orchard-20261126T120000Z",) == last.removed
    assert [
        "photos",
        "vermistat-orchard-20200101T000000Z",
        "vermistat-orchard-20261127T120000Z",
        "vermistat-orchard-20261128T120000Z",
        "vermistat-quay-20200101T000000Z",
    ] == left_in(site.folder / "stick")


# The place


@pytest.fixture
def stick(tmp_path):
    """Another disk, four megabytes of it."""
    with mounted(formatted(tmp_path / "image", 8), tmp_path / "mnt") as disk:
        yield disk


def test_another_disk_is_taken_and_the_same_place_not_when_it_is_not_mounted(site, tmp_path):
    image, place = formatted(tmp_path / "image", 8), tmp_path / "mnt"
    with mounted(image, place):
        assert not made(site, Backup(str(place))).same_disk
        inside = left_in(place)
    with pytest.raises(RequestError, match="nothing mounted there"):
        made(site, Backup(str(place)), at=NOW + 1000)
    assert ["lost+found", "vermistat-orchard-20261125T120000Z"] == inside
    assert [] == left_in(place)


def test_a_disk_that_is_mounted_read_only_is_refused(site, tmp_path):
    with (
        mounted(formatted(tmp_path / "image", 8), tmp_path / "mnt", "ro") as disk,
        pytest.raises(RequestError, match=r"cannot be written by whoever runs this \(read-only file system\)"),
    ):
        made(site, Backup(str(disk)))


def test_a_disk_that_is_full_is_refused_before_anything_is_written(site, stick):
    fill(stick)
    with pytest.raises(RequestError, match=r"0\.0 MB left"):
        made(site, Backup(str(stick)))
    assert ["ballast", "lost+found"] == left_in(stick)


def test_a_disk_that_fills_up_meanwhile_is_told_and_no_backup_is_left(site, stick, monkeypatch):
    monkeypatch.setattr(copying, "STEP", 4)
    with contextlib.closing(SqliteStore(site.store_file)) as store:
        store.keep(Batch(readings(NOW, 3000)))
    with pytest.raises(StoreFull, match=r"the disk that holds .*store\.db is full"):
        made(site, Backup(str(stick)), rest=lambda: (stick / "ballast").exists() or fill(stick))
    assert ["ballast", "lost+found"] == left_in(stick)


def test_a_copy_needs_no_wal_no_locks_and_no_right_to_write(site):
    to = site.folder / "copy.db"
    copy(site.store_file, to)
    to.chmod(0o400)
    assert b"\x01\x01" == to.read_bytes()[18:20], (
        "file format: rollback journal (sqlite.org/fileformat2.html, 1.3.3)"
    )
    assert look_into(to).rows == look_into(backed_up(site) / "store.db").rows
    assert not list(site.folder.glob("copy.db-*"))
