"""Every kept time when the clock it was told by was off: documents one by one, and what stands between rounds."""

import json
from dataclasses import fields, is_dataclass, replace

import pytest

from monitor import shifting
from monitor.alarms.holds import SHELF, WORK, Shelf, Work, shelf_of, shelf_text, work_of, work_text
from monitor.checks.delays import Phase, PhaseName, phase_of, phase_text
from monitor.readings import HOUR, MINUTE
from monitor.rules import Level
from monitor.shifting import STANDING, Move, moved
from parts import kept

T0 = kept.T0
BY = 3 * HOUR
MOVE = Move(BY, T0, T0 + 100 * HOUR)

DOCUMENTS = [
    kept.alarm(), kept.transition(), kept.past(), kept.advice(), kept.decision(), kept.notice(), kept.untold(),
    kept.entry(),
]  # fmt: skip


def times(value):
    """Every number in a document that is a moment around T0."""
    if is_dataclass(value):
        return [t for f in fields(value) for t in times(getattr(value, f.name))]
    if isinstance(value, tuple):
        return [t for one in value for t in times(one)]
    return [value] if isinstance(value, int) and abs(value - T0) < 1000 * HOUR else []


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_every_time_of_a_document_is_moved_and_nothing_else(document):
    after = moved(document, MOVE)
    assert len(times(document)) >= 1
    assert [t + BY for t in times(document)] == times(after)
    assert document == moved(after, Move(-BY, T0 + BY, MOVE.now))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_what_lies_before_the_stretch_is_left(document):
    assert document == moved(document, Move(BY, T0 + 1000 * HOUR, T0 + 2000 * HOUR))


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda d: type(d).__name__)
def test_every_kind_of_document_is_known(document):
    assert type(document) in shifting._DOCUMENTS


def test_nothing_that_has_been_lies_later_than_now():
    late = moved(kept.alarm(), Move(BY, T0, T0 + HOUR))
    assert {T0 + HOUR} == {late.since, late.raised_at, late.changed_at}


def test_what_was_reckoned_before_the_stretch_keeps_its_end():
    """Valid until within the stretch, but said before it, by another clock."""
    before = replace(kept.advice(), at=T0 - HOUR)
    assert before == moved(before, MOVE)


def standing(kind, body, away=0):
    return STANDING[kind](body, MOVE, away)


@pytest.mark.parametrize("name", [PhaseName.PENDING, PhaseName.PRESENT, PhaseName.CLEARING])
def test_a_phase_of_the_stretch_is_moved(name):
    phase = Phase(name, T0 + MINUTE, T0)
    assert Phase(name, T0 + MINUTE + BY, T0 + BY) == phase_of(standing("condition", phase_text(phase), 10 * HOUR))


@pytest.mark.parametrize(("away", "stays"), [(44 * MINUTE, True), (45 * MINUTE, False)])
def test_a_delay_from_before_goes_on_only_over_a_short_silence(away, stays):
    pending = phase_text(Phase(PhaseName.PENDING, T0 - MINUTE, T0 - MINUTE))
    assert (pending if stays else None) == standing("condition", pending, away)
    clearing = phase_text(Phase(PhaseName.CLEARING, T0 - MINUTE, T0 - HOUR))
    name = PhaseName.CLEARING if stays else PhaseName.PRESENT
    assert Phase(name, T0 - MINUTE, T0 - HOUR) == phase_of(standing("condition", clearing, away))


def test_a_probe_is_known_since_then():
    assert json.dumps(T0 + BY) == standing("probe", json.dumps(T0))
    assert json.dumps(T0 - 1) == standing("probe", json.dumps(T0 - 1))


@pytest.mark.parametrize(("heard", "after"), [(T0, T0 + BY), (T0 - 1, T0 - 1), (None, None)])
def test_a_publisher_was_heard_at_its_right_time(heard, after):
    one = {"alive": True, "heard": heard, "probes": {"fig-west": {"good": 1, "faults": {}, "says": ""}}}
    assert one | {"heard": after} == json.loads(standing("publisher", json.dumps(one)))


def test_what_is_put_aside_keeps_its_length():
    shelf = Shelf(T0, T0 + HOUR, "ana", Level.HARM, 3, "the mat comes")
    assert replace(shelf, since=T0 + BY, until=T0 + HOUR + BY) == shelf_of(standing(SHELF, shelf_text(shelf)))
    work = Work("fig", T0, T0 + HOUR, "ana", "", (1, 2))
    after = work_of("bin:fig", standing(WORK, work_text(work)))
    assert replace(work, since=T0 + BY, until=T0 + HOUR + BY) == after
    earlier = shelf_text(replace(shelf, since=T0 - 1))
    assert shelf_of(earlier) == shelf_of(standing(SHELF, earlier))
