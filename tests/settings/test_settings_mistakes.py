"""One file (or folder) a mistake under fixtures/mistakes/yaml, each with the exact text that it is refused with.

A first line `# environment: NAME=value` gives the run a variable; then the sender itself looks at the address.
"""

import re
from datetime import date
from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.notify.send import complaint
from monitor.settings import load, quantities, tree
from parts.mistaken import MONITOR, refusals, sentences, shown, unreached, unshown, walked

FOLDER = Path(__file__).parents[2] / "fixtures" / "mistakes" / "yaml"
TODAY = date(2026, 11, 25)
CASES = sorted(path.stem for path in FOLDER.glob("*.txt"))
ENVIRONMENT = re.compile(rb"# environment: (\w+)=(.*)")


def given(name):
    """The file or folder of a case, and its environment."""
    file = Path(f"{name}.yaml")
    if not file.exists():
        return Path(name), {}
    found = ENVIRONMENT.match(file.read_bytes())
    return file, {found[1].decode(): found[2].decode().replace("\\n", "\n")} if found else {}


def refused(name):
    file, environ = given(name)
    with pytest.raises(SettingsError) as caught:
        load([file], environ=environ, today=TODAY, address_ok=complaint if environ else None)
    return caught.value.mistakes


@pytest.mark.parametrize("name", CASES)
def test_a_mistake_is_refused_with_its_place_a_sentence_and_a_hint(name, monkeypatch):
    monkeypatch.chdir(FOLDER)
    mistakes = refused(name)
    assert (FOLDER / f"{name}.txt").read_text().splitlines() == mistakes
    for mistake in mistakes:
        assert re.fullmatch(r"[\w./-]+:\d+:\d+: .+[.?!] .+[.?]", mistake)


def test_every_mistake_has_its_expected_text_and_there_are_enough_of_them():
    inputs = {path.stem for path in FOLDER.glob("*.yaml")} | {
        path.name for path in FOLDER.iterdir() if path.is_dir()
    }
    assert CASES == sorted(inputs)
    assert len(CASES) >= 300


def test_no_two_files_are_refused_with_the_same_words_at_the_same_place():
    texts = [path.read_text() for path in FOLDER.glob("*.txt")]
    assert len(texts) == len(set(texts))


ELSEWHERE = {
    "There is no such file.": "settings/test_settings_yaml.py",
    "Give its path with --settings.": "settings/test_settings_yaml.py",
    "No settings file is named.": "settings/test_settings_yaml.py",
    "The file cannot be read (": "settings/test_settings_yaml.py",
    "No *.yaml stands in this folder.": "settings/test_settings_yaml.py",
    "Give the file, or the folder it lies in.": "settings/test_settings_yaml.py",
    "not a path": "settings/test_settings_yaml.py",
    "The file is larger than": "settings/test_settings_yaml.py",
    "Is it the right one?": "settings/test_settings_yaml.py",
    "There are no settings.": "cli/test_wrong_calls_end_with_64.py",
    "Give us the right to read it.": "settings/test_settings_secrets.py",
    "cannot be used.": "settings/test_settings_secrets.py",
}
"""What no file can bring about by itself (it is not there, root may read it …), and the test that shows it."""
NO_MISTAKES = {
    "explaining.py",
    "pending.py",
    "__init__.py",
    "assemble.py",
    "restart.py",
    "watching.py",
    "published.py",
    "explaining_people.py",
    "alike.py",
    # what is tried and written is held in test_what_cannot_be_tried_or_written_is_said
    "editing.py",
    "wishes.py",
    "writing.py",
}
ROOM = sorted(path for path in (MONITOR / "settings").glob("*.py") if path.name not in NO_MISTAKES)
NOT_TOLD = {words for words, _, _ in tree._PLAIN_WORDS} | quantities._MEANT.keys()
"""What the parser says, and what people call a unit: both are only understood."""


@pytest.mark.parametrize(("words", "test"), ELSEWHERE.items())
def test_what_no_file_can_show_is_shown_by_the_test_that_is_named(words, test):
    assert words in (FOLDER.parents[2] / "tests" / test).read_text()


def elsewhere(text):
    return any(words in text for words in ELSEWHERE)


@pytest.mark.parametrize("path", ROOM, ids=lambda path: path.stem)
def test_every_sentence_that_the_settings_can_say_is_shown_by_some_file(path):
    told = [line for text in FOLDER.glob("*.txt") for line in text.read_text().splitlines()]
    assert [] == unshown(
        path, told, lambda pieces: pieces[0] in NOT_TOLD or elsewhere("".join(p or "" for p in pieces))
    )


@pytest.fixture(scope="module")
def lines():
    """Every line of the settings that runs while all the mistakes are made."""
    with pytest.MonkeyPatch.context() as patch, walked(MONITOR / "settings") as found:
        patch.chdir(FOLDER)
        for name in CASES:
            refused(name)
    return found


@pytest.mark.parametrize("path", ROOM, ids=lambda path: path.stem)
def test_every_place_that_refuses_is_reached_by_some_file(path, lines):
    raises, calls = {"Misread", "_Refused", "foreign"}, {"wrong", "twice"}
    assert [] == unreached(path, raises, calls, lines=lines, but=elsewhere)


def test_a_sentence_nobody_shows_and_a_place_nobody_reaches_are_found_out(tmp_path):
    """The control of the two above."""
    room = tmp_path / "room.py"
    room.write_text(
        '''"""No sentence."""\nimport re\nODD = re.compile("not a sentence")\n'''
        "class Misread(Exception): ...\n"
        "def read(text, n):\n"
        "    if n:\n"
        "        raise Misread(f'In {text} low is not below high.', 'Swap them?' if n > 1 else 'Write it anew.')\n"
        "    raise Misread('Too late for this.')\n"
    )
    told = ["In 'x' low is not below high. Write it anew."]
    assert ["Swap them?", "Too late for this."] == ["".join(p) for _, p in sentences(room) if not shown(p, told)]
    space = {}
    with walked(tmp_path) as found:
        exec(compile(room.read_text(), str(room), "exec"), space)
        with pytest.raises(space["Misread"]):
            space["read"]("x", 1)
    places = [first for first, last, _ in refusals(room, {"Misread"}, set()) if (str(room), first) not in found]
    assert [8] == places


def test_all_mistakes_of_a_file_are_told_at_once_and_in_the_order_of_its_lines(monkeypatch):
    monkeypatch.chdir(FOLDER)
    with pytest.raises(SettingsError) as refused:
        load([Path("several-at-once.yaml")], environ={}, today=TODAY)
    places = [tuple(int(n) for n in mistake.split(":")[1:3]) for mistake in refused.value.mistakes]
    assert len(places) >= 12
    assert places == sorted(places)


def test_a_mistake_in_one_value_does_not_make_others_out_of_what_depends_on_it(tmp_path):
    """The bin's species is wrong and its zone's role too: its mat and its person are still in order."""
    file = tmp_path / "s.yaml"
    file.write_text(
        "site: {id: orchard, timezone: Europe/Lisbon}\n"
        "bins:\n"
        "  fig:\n"
        "    species: dragon\n"
        "    zones: {west: {role: alive, probes: {fig-west: {measures: warmth, topic: probes/fig-west}}}}\n"
        "mats: {long-mat: {warms: [fig.west], control: magic, set_to: 23 °C}}\n"
        "people: {ana: {channels: [phone], evening: late, up: '07:00', hears: [fig]}}\n"
        "channels: {phone: {send_to: 'a secret'}}\n"
    )
    with pytest.raises(SettingsError) as refused:
        load([file], environ={}, today=TODAY)
    assert [4, 5, 5, 6, 7, 8] == [int(mistake.split(":")[1]) for mistake in refused.value.mistakes]
