"""A clock must be proven, or have stood without a step or a doubt for a while: at the database false times stay for ever."""

from types import SimpleNamespace

import pytest

from monitor.readings import MINUTE
from monitor.reckoning import Belief, Reckoning
from monitor.shipping import PROVEN_AFTER, Certain
from monitor.store.influx_ship import UNSURE, Shipper


class Watch:
    """A clock whose belief is set, and the patience beside it, in minutes."""

    def __init__(self, belief=Belief.BELIEVED):
        self.minutes = 0.0
        self.stretch = Reckoning("boot", belief, 1_800_000_000_000, 0)

    def now(self):
        return 60 * self.minutes

    def becomes(self, belief, *, by=0):
        """Anchored anew, as every look does."""
        ran = round(self.minutes * MINUTE)
        self.stretch = Reckoning("boot", belief, self.stretch.now(ran) + by, ran)


def after(watch, certain, minutes):
    """Whether it is certain, asked every minute until then."""
    answer = certain()
    for _ in range(minutes):
        watch.minutes += 1
        watch.becomes(watch.stretch.belief, by=30)
        answer = certain()
    return answer


WAIT = PROVEN_AFTER // MINUTE


def test_a_proven_time_is_sent_at_once():
    watch = Watch(Belief.PROVEN)
    assert Certain(watch, watch)()


def test_one_that_is_merely_believed_waits_and_small_steps_do_not_count():
    watch = Watch()
    certain = Certain(watch, watch)
    assert not after(watch, certain, WAIT - 1)
    assert after(watch, certain, 1)


@pytest.mark.parametrize("by", [-6 * MINUTE, 6 * MINUTE])
def test_a_step_begins_the_waiting_anew(by):
    watch = Watch()
    certain = Certain(watch, watch)
    assert not after(watch, certain, WAIT - 1)
    watch.becomes(Belief.BELIEVED, by=by)
    assert not after(watch, certain, WAIT - 1)
    assert after(watch, certain, 1)


def test_a_doubt_holds_it_and_is_counted_from_its_end():
    watch = Watch(Belief.UNSURE)
    certain = Certain(watch, watch)
    assert not after(watch, certain, 10 * WAIT)
    watch.becomes(Belief.BELIEVED)
    assert not after(watch, certain, WAIT - 1)
    assert after(watch, certain, 1)


def test_what_is_held_back_by_a_doubt_is_told_like_what_fails():
    sure = []
    store = SimpleNamespace(
        unshipped=lambda: 7, ship=lambda: SimpleNamespace(sent=7, same=0, other=0), prune=lambda _: 0
    )
    watch = Watch()
    shipper = Shipper(store, here=0, now=lambda: 0, may=lambda: bool(sure), patience=watch, beat=lambda: None)
    watch.minutes = 3
    shipper._turn()
    watch.minutes = 9
    shipper._turn()
    assert (7, 180, UNSURE) == (
        shipper.standing().waiting,
        shipper.standing().failing_since,
        shipper.standing().error,
    )
    sure.append(True)
    shipper._turn()
    assert (None, "") == (shipper.standing().failing_since, shipper.standing().error)
