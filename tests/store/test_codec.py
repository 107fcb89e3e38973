"""Documents come back exactly, also those written before a field existed, or are refused."""

import json
import math
from dataclasses import dataclass, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.cycle import Alarm, Event, State, Transition
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind, Subject
from monitor.errors import BadValue, StoreBroken
from monitor.rules import Level
from monitor.store.codec import read, written
from parts.kept import EVIDENCE, advice, alarm, decision, entry, notice, past, transition, untold

DOCUMENTS = [alarm(), transition(), past(), advice(), notice(), decision(), untold(), entry()]


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_every_kind_of_document_comes_back(document):
    assert document == read(type(document), written(document))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_every_part_comes_back_as_what_it_was(document):
    def kinds(value):
        if hasattr(value, "__dataclass_fields__"):
            return [type(value), *(kinds(getattr(value, name)) for name in value.__dataclass_fields__)]
        return [type(value), *map(kinds, value)] if isinstance(value, tuple) else type(value)

    assert kinds(document) == kinds(read(type(document), written(document)))


texts = st.text(max_size=20)
floats = st.none() | st.floats(allow_nan=False, allow_infinity=False)
subjects = st.builds(Subject, st.sampled_from(Kind), texts, texts)
keys = st.builds(AlarmKey, subjects, st.sampled_from(Condition))
evidences = st.builds(
    Evidence, texts, floats, floats, texts, st.integers(), texts, texts, st.none() | texts, st.none() | texts
)
levels = st.none() | st.sampled_from(Level)
states = st.sampled_from(State)
alarms = st.builds(
    Alarm,
    keys,
    st.integers(),
    states,
    levels,
    st.integers(),
    st.integers(),
    st.integers(),
    evidences,
    st.none() | keys,
)
transitions = st.builds(
    Transition, keys, st.integers(), st.sampled_from(Event), states, states, levels, st.integers(), st.integers(),
    texts, st.none() | texts, st.none() | evidences,
)  # fmt: skip


@settings(max_examples=200, derandomize=True)
@given(alarms | transitions)
def test_any_alarm_and_any_transition_comes_back(document):
    assert document == read(type(document), written(document))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused(value):
    with pytest.raises(BadValue):
        written(replace(EVIDENCE, value=value))


@pytest.mark.parametrize("spoilt", [{"value": "14"}, {"arithmetic": 5}, {"lasting": 1.5}, {"unit": None}])
def test_a_value_of_another_kind_is_refused(spoilt):
    with pytest.raises(BadValue, match="Evidence"):
        written(replace(EVIDENCE, **spoilt))


@pytest.mark.parametrize("field", ["cause", "level"])
def test_a_document_without_a_field_that_may_be_missing(field):
    body = json.loads(written(alarm()))
    del body[field]
    if field == "cause":
        assert replace(alarm(), cause=None) == read(Alarm, json.dumps(body))
    else:
        with pytest.raises(StoreBroken, match="level"):
            read(Alarm, json.dumps(body))


def test_a_document_from_before_an_optional_field_is_read_with_its_default():
    @dataclass(frozen=True, slots=True)
    class Later:
        arithmetic: str
        value: float | None = None
        added: tuple[str, ...] = ("nothing",)

    assert Later(EVIDENCE.arithmetic, 14.1, ("nothing",)) == read(Later, written(EVIDENCE))


def test_a_field_nobody_knows_any_more_is_passed_over():
    assert EVIDENCE == read(Evidence, json.dumps(json.loads(written(EVIDENCE)) | {"gone": 1}))


@pytest.mark.parametrize("body", ["", "{", "[]", "null", '{"arithmetic": 5}', '{"value": 1}'])
def test_what_is_no_document_is_said_to_be_broken(body):
    with pytest.raises(StoreBroken, match="Evidence"):
        read(Evidence, body)
