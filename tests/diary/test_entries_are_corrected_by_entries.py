"""Nothing is ever changed: what was corrected is there, and no longer counts."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.diary import Deed, Entry, corrected_by, in_force
from parts.orchard import ms

T0 = ms("08:00")


def entry(number, corrects=None, at=T0, subject="bin:fig"):
    return Entry(at, at, "ana", Deed.FED, subject, "", number=number, corrects=corrects)


def test_an_entry_that_is_corrected_counts_no_longer():
    assert [2] == [e.number for e in in_force([entry(1), entry(2, corrects=1)], T0)]


def test_a_correction_can_be_corrected_and_what_it_stood_for_stays_out():
    kept = [entry(1), entry(2, corrects=1), entry(3, corrects=2)]
    assert [3] == [e.number for e in in_force(kept, T0)]
    assert {1: 2, 2: 3} == corrected_by(kept)


def test_of_two_corrections_the_newer_is_named():
    assert {1: 3} == corrected_by([entry(1), entry(3, corrects=1), entry(2, corrects=1)])


def test_an_entry_cannot_strike_itself_out():
    assert [1] == [e.number for e in in_force([entry(1, corrects=1)], T0)]


def test_what_is_still_to_come_does_not_count_yet():
    assert [] == in_force([entry(1, at=T0 + 1)], T0)


def test_an_entry_knows_its_bin():
    assert ["fig", "fig", "", "", ""] == [
        entry(1, subject=s).bed for s in ("bin:fig", "zone:fig.west", "mat:long-mat", "probe:fig-east", "")
    ]


@given(st.lists(st.tuples(st.integers(1, 9), st.none() | st.integers(1, 9)), max_size=12))
def test_what_counts_is_never_something_that_another_entry_corrects(pairs):
    kept = [entry(number, corrects) for number, corrects in pairs]
    counting = {e.number for e in in_force(kept, T0)}
    assert not counting & {c for n, c in pairs if c is not None and c != n}
    assert all(e in kept for e in in_force(kept, T0))
