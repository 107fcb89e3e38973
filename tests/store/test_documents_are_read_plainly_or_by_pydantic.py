"""What is read without pydantic is what pydantic reads; whatever that would refuse or set right is left to it."""

import copy
import json
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.cycle import Alarm
from monitor.amendments import Amendment
from monitor.errors import StoreBroken
from monitor.store import codec
from monitor.store.plain import plain
from monitor.store.promises import TakenUp
from parts.kept import advice, alarm, decision, entry, notice, past, transition, untold

AMENDMENT = Amendment("fig", "", "temperature", "comfort", None, 15, "°C", "settings", "", "16 °C")
DOCUMENTS = [
    alarm(), transition(), past(), advice(), notice(), decision(), untold(), entry(),
    TakenUp(1, 2, "daemon", (AMENDMENT,), ("fig",), why="a — b"),
]  # fmt: skip
VALUES = [None, True, 0, -0.0, 1.5, 10**400, "", "comfort", "14", "\ud800", [], [1], ["a", "b"], {}, {"since": 1}]


def by_pydantic(kind, text):
    try:
        return codec._judged(kind, text)
    except StoreBroken:
        return None


def shape(value):
    """Every value with its class: 1, 1.0 and True are equal."""
    if hasattr(value, "__dataclass_fields__"):
        return [type(value), *(shape(getattr(value, name)) for name in value.__dataclass_fields__)]
    return [type(value), *map(shape, value)] if isinstance(value, tuple) else (type(value), value)


def places(body, at=()):
    yield at
    for key, value in (
        body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    ):
        yield from places(value, (*at, key))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_every_kind_of_document_is_read_plainly(document):
    found = plain(type(document), codec.written(document))
    assert shape(by_pydantic(type(document), codec.written(document))) == shape(found)
    assert document == found


@settings(max_examples=500, derandomize=True, deadline=None)
@given(st.sampled_from(DOCUMENTS), st.integers(0, 10**6), st.sampled_from([*VALUES, "gone"]))
def test_a_document_with_another_value_somewhere_is_read_as_by_pydantic_or_not_at_all(document, where, value):
    body = json.loads(codec.written(document))
    found = list(places(body))[1:]
    *way, last = found[where % len(found)]
    parent = body
    for step in way:
        parent = parent[step]
    if value == "gone":
        del parent[last]
    else:
        parent[last] = copy.deepcopy(value)
    for text in (json.dumps(body), json.dumps(body, ensure_ascii=False)):
        read = plain(type(document), text)
        if read is not None:
            assert shape(by_pydantic(type(document), text)) == shape(read)


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", "1", '"a"', "[" * 100_000, '{"number": NaN}', '{"number": 1e999}', "\ufeff{}"]
)
def test_what_is_no_document_is_left_to_pydantic(text):
    assert plain(Alarm, text) is None


@pytest.mark.parametrize("field", ["level", "cause"])
def test_a_field_that_is_not_there_has_its_default_or_is_left_to_pydantic(field):
    body = json.loads(codec.written(alarm()))
    del body[field]
    found = plain(Alarm, json.dumps(body))
    assert by_pydantic(Alarm, json.dumps(body)) == found
    assert (field == "level") == (found is None)


def test_few_documents_are_read_without_loading_pydantic_and_many_with_it():
    text = codec.written(alarm())
    script = (
        "import sys; from monitor.alarms.cycle import Alarm; from monitor.store import codec\n"
        "text = sys.argv[1]\n"
        "for _ in range(codec.FEW): codec.read(Alarm, text)\n"
        "print('pydantic' in sys.modules)\n"
        "codec.read(Alarm, text); print('pydantic' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script, text], capture_output=True, text=True, check=True)
    assert "False\nTrue\n" == done.stdout
