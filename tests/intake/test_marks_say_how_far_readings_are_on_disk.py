from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.marks import EVERY, MOST, SOON, Marks
from monitor.intake.payloads.numbered import Mark, Numbered

LIFE = "aa55aa55"


class Told:
    """Marks by a patience that is set by hand."""

    def __init__(self):
        self.now = 1000.0
        self.marks = Marks(lambda: self.now)

    def kept(self, first, last=None, *, oldest=1, probe="fig", life=LIFE, after=0.0, topic=None):
        self.now += after
        told = Numbered(probe, life, first, last or first, oldest)
        return [(m.through, m.heard) for m in self.marks.kept([(topic or f"probes/{probe}", told)])]


def test_the_first_of_a_life_is_answered_at_once_and_then_every_five_minutes():
    told = Told()
    assert [(1, 1)] == told.kept(1)
    assert [] == told.kept(2, after=60)
    assert [] == told.kept(3, 5, after=EVERY - 61)
    assert [(6, 6)] == told.kept(6, after=1)


def test_a_gap_is_told_within_seconds_and_closed_by_what_was_missing():
    told = Told()
    told.kept(1)
    assert [] == told.kept(4, after=SOON - 1)
    assert [(1, 5)] == told.kept(5, after=1)
    assert [] == told.kept(7, after=1)
    assert [(1, 7)] == told.kept(7, after=SOON)
    assert [] == told.kept(2, 3)
    assert [(5, 7)] == told.kept(3, after=SOON)
    assert [] == told.kept(6, 8, after=SOON - 1)
    assert [(9, 9)] == told.kept(9, after=1)
    assert [] == told.kept(10, after=SOON)
    assert [(11, 11)] == told.kept(11, after=EVERY)


def test_who_knows_nothing_counts_on_from_the_oldest_number_still_held():
    assert [(17, 17)] == Told().kept(17, oldest=17)
    assert [(11, 18)] == Told().kept(18, oldest=12)


def test_what_a_publisher_gave_up_is_missed_no_longer():
    told = Told()
    told.kept(1)
    assert [(1, 9)] == told.kept(9, after=SOON)
    assert [(10, 10)] == told.kept(10, oldest=9, after=SOON)


def test_each_life_and_each_topic_counts_for_itself():
    told = Told()
    told.kept(5, oldest=5)
    assert [(1, 1)] == told.kept(1, life="bb55bb55")
    assert [(2, 2)] == told.kept(2, oldest=2, topic="probes/other")


def test_nothing_is_said_twice_and_at_the_end_all_that_was_not_said():
    told = Told()
    told.kept(1)
    told.kept(2)
    assert [] == told.marks.due()
    assert [Mark("fig", LIFE, 2, 2)] == told.marks.due(last=True)
    assert [] == told.marks.due(last=True)


def test_a_day_behind_a_gap_is_one_stretch_and_not_a_thousand():
    told = Told()
    told.kept(1)
    for number in range(3, 1443):
        told.kept(number)
    (life,) = told.marks._lives.values()
    assert [(3, 1442)] == life.above


def test_no_more_lives_are_remembered_than_so_many():
    told = Told()
    for n in range(MOST + 10):
        told.kept(1, life=f"{n:08x}")
    assert len(told.marks._lives) == MOST


@given(st.permutations(range(1, 13)), st.data())
def test_in_whatever_order_they_come_the_mark_is_the_end_of_the_first_unbroken_run(order, data):
    marks, seen = Marks(lambda: 0.0, every=0.0, soon=0.0), set()
    for number in order:
        last = min(number + data.draw(st.integers(0, 3)), 12)
        (mark,) = marks.kept([("t", Numbered("fig", LIFE, number, last, 1))])
        seen |= set(range(number, last + 1))
        through = next(n for n in range(0, 14) if n + 1 not in seen)
        assert (through, max(seen)) == (mark.through, mark.heard)
