"""The keeper's files change while we run: seen once they stand still, read as a whole, and refused as `check` does."""

import os

import pytest

from monitor.settings import load
from monitor.settings.watching import STILL, Refused, Watch

TEN_LINES = """\
site: {id: porch}
bins:
  fig:
    name: NAME
    species: eisenia-fetida
    zones: {middle: {probes: {fig-middle: {measures: temperature, topic: probes/fig-middle}}}}
"""


class Desk:
    """A file, a watch on it, and what happens to the file while we wait for it to stand still."""

    def __init__(self, folder, text=TEN_LINES):
        self.file = folder / "vermistat.yaml"
        self.write(text)
        self.loads = 0
        self.meanwhile = []
        self.waited = []
        self.watch = self.watching(load([self.file], environ={}))

    def watching(self, settings):
        return Watch(settings, load=self.load, settle=self.settle)

    def load(self):
        self.loads += 1
        return load([self.file], environ={})

    def settle(self, seconds):
        self.waited.append(seconds)
        if self.meanwhile:
            self.meanwhile.pop(0)()

    def write(self, text):
        """As an editor does: another file under the same name."""
        beside = self.file.with_suffix(".new")
        beside.write_text(text)
        os.replace(beside, self.file)

    def name(self):
        found = self.watch.look()
        return found and found.rules.bins["fig"].name


@pytest.fixture
def desk(tmp_path):
    return Desk(tmp_path)


def test_nothing_is_read_while_nothing_has_changed(desk):
    assert [None] * 3 == [desk.watch.look() for _ in range(3)]
    assert (0, []) == (desk.loads, desk.waited)


def test_a_file_that_was_replaced_is_read_once(desk):
    desk.write(TEN_LINES.replace("NAME", "Tree"))
    assert ["Tree", None, None] == [desk.name() for _ in range(3)]
    assert 1 == desk.loads


def test_a_file_that_was_written_in_place_is_read(desk):
    desk.file.write_text(TEN_LINES.replace("NAME", "Bush"))
    assert "Bush" == desk.name()


def test_a_change_between_the_loading_and_the_first_look_is_found(tmp_path):
    desk = Desk(tmp_path)
    loaded = load([desk.file], environ={})
    desk.write(TEN_LINES.replace("NAME", "Tree"))
    desk.watch = desk.watching(loaded)
    assert "Tree" == desk.name()


def test_a_file_that_is_still_being_written_is_waited_for(desk):
    whole = TEN_LINES.replace("NAME", "Tree")
    desk.file.write_text(whole[:60])
    desk.meanwhile = [lambda: desk.file.write_text(whole[:90]), lambda: desk.file.write_text(whole)]
    assert "Tree" == desk.name()
    assert [STILL] * 3 == desk.waited
    assert 1 == desk.loads


def test_a_file_that_does_not_stand_still_is_left_to_the_next_look(desk):
    whole = TEN_LINES.replace("NAME", "Tree")
    desk.file.write_text("")
    desk.meanwhile = [lambda n=n: desk.file.write_text(whole[: 40 + n]) for n in range(4)]
    assert (None, 0) == (desk.watch.look(), desk.loads)
    desk.file.write_text(whole)
    assert "Tree" == desk.name()


def test_the_moment_without_a_file_of_an_editor_that_deletes_first_is_passed_over(desk):
    desk.file.unlink()
    desk.meanwhile = [lambda: desk.write(TEN_LINES.replace("NAME", "Tree"))]
    assert "Tree" == desk.name()


def test_a_file_that_is_gone_for_good_is_refused_and_found_again(desk):
    desk.file.unlink()
    found = desk.watch.look()
    assert isinstance(found, Refused)
    assert "There is no such file." in found.mistakes[0]
    assert desk.watch.look() is None
    desk.write(TEN_LINES)
    assert "NAME" == desk.name()


def test_a_file_that_changes_while_it_is_read_is_read_again(desk):
    def changing():
        found = load([desk.file], environ={})
        if desk.loads == 0:
            desk.write(TEN_LINES.replace("NAME", "Second"))
        desk.loads += 1
        return found

    desk.load = changing
    desk.watch = Watch(load([desk.file], environ={}), load=changing, settle=desk.settle)
    desk.write(TEN_LINES.replace("NAME", "First"))
    assert [None, "Second", None] == [desk.name() for _ in range(3)]


def test_mistakes_are_those_of_check_and_are_told_once_until_the_file_changes(desk):
    desk.write(TEN_LINES.replace("eisenia", "eisena"))
    found = desk.watch.look()
    hint = "'eisena-fetida' is no species we know. Did you mean eisenia-fetida?"
    assert Refused((f"{desk.file}:5:14: {hint}",)) == found
    assert desk.watch.look() is None
    desk.write(TEN_LINES)
    assert "NAME" == desk.name()


def test_a_folder_is_watched_for_files_that_come_and_go(tmp_path):
    (tmp_path / "bins").mkdir()
    main, extra = tmp_path / "bins" / "a.yaml", tmp_path / "bins" / "b.yaml"
    main.write_text(TEN_LINES)
    found = load([tmp_path / "bins"], environ={})
    watch = Watch(found, load=lambda: load([tmp_path / "bins"], environ={}), settle=lambda _: None)
    assert watch.look() is None
    extra.write_text(TEN_LINES.replace("site: {id: porch}\n", "").replace("fig", "plum"))
    assert ["fig", "plum"] == list(watch.look().rules.bins)
    extra.unlink()
    assert ["fig"] == list(watch.look().rules.bins)


def test_a_secret_that_changes_is_a_change(tmp_path):
    secret = tmp_path / "phone-url"
    secret.write_text("json://one.invalid")
    desk = Desk(tmp_path, TEN_LINES + "channels: {phone: {send_to: {from_file: phone-url}}}\n")
    assert desk.watch.look() is None
    secret.write_text("json://another.invalid")
    assert "json://another.invalid" == desk.watch.look().channels["phone"].send_to.reveal()
    secret.unlink()
    assert "The file named here is not there." in desk.watch.look().mistakes[0]
    secret.write_text("json://third.invalid")
    assert "json://third.invalid" == desk.watch.look().channels["phone"].send_to.reveal()


def test_a_touched_file_is_read_and_says_the_same(desk):
    os.utime(desk.file, ns=(1, 1))
    before = load([desk.file], environ={})
    assert before == desk.watch.look()
