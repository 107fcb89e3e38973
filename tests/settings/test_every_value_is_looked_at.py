"""A file with every key there is: each of its values, spoilt in turn, is refused where it stands and nowhere else."""

import re
from datetime import date
from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.settings import load
from monitor.settings.schema import FileShape
from monitor.settings.shape import _inner, _is_model
from monitor.settings.tree import read

WHOLE = Path(__file__).parents[2] / "fixtures" / "whole" / "settings.yaml"
LINES = WHOLE.read_text().splitlines()
TODAY = date(2026, 11, 25)
ENVIRON = {
    "BROKER_PASSWORD": "x", "MAIL_URL": "mailto://localhost", "PAGE_PASSPHRASE": "x", "DATABASE_TOKEN": "x",
    "WEATHER_URL": "https://weather.example/next",
}  # fmt: skip
VALUE = re.compile(r"(?P<margin> *(?:- )?)(?:[a-z_-]+: )?(?P<value>[^\s#][^#]*[^:])")


def refused(lines, folder):
    """(line, column) of every mistake."""
    file = folder / "settings.yaml"
    file.write_text("\n".join(lines) + "\n")
    (folder / "phone-url").write_text("json://127.0.0.1/")
    with pytest.raises(SettingsError) as caught:
        load([file], environ=ENVIRON, today=TODAY)
    return [tuple(map(int, mistake.removeprefix(f"{file}:").split(":")[:2])) for mistake in caught.value.mistakes]


def keys(kind):
    """Every key of the schema, as (its shape, its name)."""
    if _is_model(kind):
        for name in kind.model_fields:
            yield kind.__name__, name
            yield from keys(_inner(kind, name))
    elif getattr(kind, "__origin__", None) in (dict, list):
        yield from keys(_inner(kind, "x"))


def written(data, kind):
    """Every key of a file, as (its shape, its name)."""
    if isinstance(data, dict):
        for name, inner in data.items():
            if _is_model(kind):
                yield kind.__name__, name
            yield from written(inner, _inner(kind, name))
    elif isinstance(data, list):
        for inner in data:
            yield from written(inner, _inner(kind, 0))


def test_the_file_holds_every_key_there_is_and_is_accepted():
    data, _, mistakes = read(WHOLE)
    assert [] == mistakes
    either = {("OutdoorsShape", "topic"), ("FileShape", "include")}  # beside `url`; needs another file
    assert set() == set(keys(FileShape)) - set(written(data, FileShape)) - either
    assert {"fig", "plum", "crate-01", "crate-02", "crate-07"} == set(
        load([WHOLE], environ=ENVIRON, today=TODAY).rules.bins
    )


SPOILT = {
    "a list": "[one, two]",
    "keys": "{one: two}",
    "nothing": "",
    "nonsense": "'?!'",
    "an address": "json://u:p@h/",
}
FREE = re.compile(
    r".*\b(name: (Orchard shed|The shed|Fig)|user: .*|bucket: .*|org: .*|client_id: .*|path: .*|to: .*|topic: .*)"
)
"""Any words may stand there."""
CASES = [
    (number, how)
    for number, line in enumerate(LINES, 1)
    for how in SPOILT
    if VALUE.fullmatch(line) and not (FREE.fullmatch(line) and how in ("nonsense", "an address"))
]


def test_every_key_with_a_value_of_its_own_is_among_them():
    assert len({number for number, _ in CASES}) >= 100
    assert len(set(keys(FileShape))) >= 90


@pytest.mark.parametrize(("number", "how"), CASES, ids=str)
def test_a_spoilt_value_is_refused_where_it_stands(number, how, tmp_path):
    line = LINES[number - 1]
    found = VALUE.fullmatch(line)
    at = found.start("value")
    lines = [*LINES[: number - 1], line[:at] + SPOILT[how], *LINES[number:]]
    places = refused(lines, tmp_path)
    assert {number} == {where for where, _ in places}
    key, value = len(found["margin"]) + 1, len(line[:at].rstrip()) + 1 if how == "nothing" else at + 1
    inner = at + 1 + SPOILT[how].find("one")
    assert {column for _, column in places} <= {key, value, inner, inner + len("one, ")}
