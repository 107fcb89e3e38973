"""`vermistat backup` in sentences: where it lies, what is in it, and what is not."""

import re


def stick_of(site):
    stick = site.folder / "stick"
    stick.mkdir()
    return stick


def test_beside_the_store_it_says_of_what_use_that_is(site, capsys):
    said = site.says(capsys, "backup")
    assert f"Backed up to {site.folder}/backups/vermistat-orchard-20261125T120000Z, and read back" in said
    assert "on the disk of the store itself: good against a mistake, of no use when that disk dies" in said
    assert "It holds 96 readings from 2026-11-25 08:00 to 2026-11-25 12:00, 0 diary entries, 2 notices" in said
    assert "Not in it, because they are secret or another's: mail-url. Keep those elsewhere." in said


def test_readings_that_lie_in_a_database_only_are_said_not_to_be_in_it(site, capsys):
    site.file.write_text(site.file.read_text() + "database: {url: 'http://127.0.0.1:9', bucket: worms}\n")
    assert (
        "Not in it: readings that lie in worms at http://127.0.0.1:9 only. Back that database up by its own means."
        in site.says(capsys, "backup")
    )
    assert (
        "worms at http://127.0.0.1:9"
        == site.tells(capsys, "restore", str(site.folder / "backups"), "--only-look")["held"]["elsewhere"]
    )


def test_the_command_goes_where_the_settings_say_and_its_options_go_before_them(site, capsys):
    stick_of(site)
    site.file.write_text(
        site.file.read_text() + "backup: {to: stick, same_disk: true, keep: {days: 1, weeks: 0}}\n"
    )
    first = site.tells(capsys, "backup")
    assert first["made"]["folder"].startswith(str(site.folder / "stick"))
    code, errors = site.refuses(capsys, "backup", "--to", str(site.folder))
    assert 1 == code
    assert re.search("is nothing mounted there", errors), "another place is asked for anew whether it may be so"


def test_settings_that_are_refused_do_not_keep_a_backup_from_being_made(site, capsys):
    with site.lived() as house:
        site.taken_up(store=house.store)
    site.file.write_text(site.file.read_text().replace("bins:", "bims:"))
    capsys.readouterr()
    assert 0 == site.call("backup")
    out, errors = capsys.readouterr()
    assert "Backed up to" in out
    assert "the files are refused" in errors
