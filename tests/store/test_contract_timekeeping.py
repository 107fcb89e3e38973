"""Every sentence of promises.Timekeeping, for every store."""

from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event
from monitor.errors import BadValue
from monitor.names import Names
from monitor.readings import DAY, HOUR, MINUTE, Quality
from monitor.store.promises import Shift, Standing
from parts.kept import (
    T0,
    advice,
    alarm,
    batch,
    decision,
    entry,
    notice,
    past,
    reading,
    refusal,
    round_,
    taking,
    transition,
    undated,
    untold,
)

BY = 3 * HOUR


def shift(above, *, by=BY, begin=T0, end=T0 + HOUR, now=None, anew=lambda r: r.quality, **more):
    return Shift(by, begin, end, end + by if now is None else now, above, anew, **more)


def series(store, probe="fig-west"):
    return [(r.at, r.value) for r in store.window(probe, -(2**60), 2**60)]


def test_readings_above_the_mark_are_moved_and_those_before_it_are_not(store):
    store.keep(batch(reading(minute=-90, value=19.0), reading("fig-east", minute=-1, value=18.0)))
    above = store.mark()
    store.keep(batch(*(reading(minute=n, value=20.0 + n) for n in range(5))))
    before = store.after(0)
    store.shift(shift(above))
    expected = before[:2] + [replace(r, at=r.at + BY, received_at=r.received_at + BY) for r in before[2:]]
    assert expected == store.after(0)
    assert before[2:] != expected[2:]
    assert [(T0 - 90 * MINUTE, 19.0)] + [(T0 + n * MINUTE + BY, 20.0 + n) for n in range(5)] == series(store)
    assert (7, 7) == (store.counted(), store.last_arrival())
    assert expected[-3:] == store.latest("fig-west", 3)
    assert expected[3:5] == [r for r in store.latest("fig-west", 9, upto_arrival=5) if r.arrival > 3]


@pytest.mark.parametrize("by", [-DAY, -MINUTE, MINUTE, 90_000, DAY, 400 * DAY])
def test_no_reading_of_a_stretch_is_in_the_way_of_another(store, by):
    above = store.mark()
    store.keep(batch(*(reading(minute=n, value=float(n)) for n in range(10))))
    store.shift(shift(above, by=by))
    assert [(T0 + n * MINUTE + by, float(n)) for n in range(10)] == series(store)


def test_a_shift_of_nothing_moves_nothing(store):
    above = store.mark()
    store.keep(batch(reading(), reading("fig-east", own_time=True)))
    before = store.after(0)
    store.shift(shift(above, by=0))
    assert before == store.after(0)


def test_what_was_received_after_the_end_was_stamped_by_another_clock(store):
    above = store.mark()
    store.keep(batch(reading(minute=60), reading("fig-east", minute=61)))
    store.shift(shift(above))
    assert [T0 + HOUR + BY, T0 + 61 * MINUTE] == [r.at for r in store.after(0)]


def test_a_time_of_its_own_stays_and_only_its_arrival_moves(store):
    above = store.mark()
    store.keep(batch(reading(minute=-30, received_at=T0 + MINUTE, own_time=True, quality=Quality.STALE)))
    store.shift(shift(above))
    (kept,) = store.after(0)
    assert (T0 - 30 * MINUTE, T0 + MINUTE + BY, Quality.STALE) == (kept.at, kept.received_at, kept.quality)


def test_a_moved_reading_that_meets_another_goes_a_millisecond_later_and_none_is_lost(store):
    above = store.mark()
    store.keep(
        batch(
            reading(minute=180, value=1.0, received_at=T0 + MINUTE, own_time=True),
            replace(reading(value=2.0, own_time=True, received_at=T0 + MINUTE), at=T0 + BY + 1),
            reading(minute=0, value=3.0),
        )
    )
    store.shift(shift(above))
    assert [(T0 + BY, 1.0), (T0 + BY + 1, 2.0), (T0 + BY + 2, 3.0)] == series(store)
    assert T0 + BY == store.after(0)[2].received_at
    assert {} == store.contradictions()


def test_the_next_readings_meet_what_was_moved_and_not_what_was_there(store):
    above = store.mark()
    store.keep(batch(reading(minute=0, value=20.0)))
    store.shift(shift(above))
    assert 1 == store.keep(batch(reading(minute=180, value=20.0))).same
    assert 1 == store.keep(batch(reading(minute=180, value=21.0))).other
    assert 1 == store.keep(batch(reading(minute=0, value=20.0))).new
    assert [T0, T0 + BY] == [at for at, _ in series(store)]


def test_readings_that_were_ahead_are_judged_anew_and_those_believed_only_now_arrive_again(store):
    store.keep(batch(reading("plum-near")))
    above = store.mark()
    ahead, early = ({"own_time": True, "received_at": T0, "quality": q} for q in (Quality.AHEAD, Quality.EARLY))
    store.keep(
        batch(
            reading("a", minute=179, value=1.0, **ahead),
            reading("b", minute=900, value=2.0, **ahead),
            reading("c", minute=179, value=3.0, **early),
            reading("d", minute=900, value=4.0, **early),
            reading("e", minute=0, value=5.0),
        )
    )
    store.shift(shift(above, anew=lambda r: Quality.GOOD if r.at <= r.received_at else Quality.AHEAD))
    assert [
        ("plum-near", Quality.GOOD, 1),
        ("b", Quality.AHEAD, 3),
        ("c", Quality.GOOD, 4),
        ("d", Quality.AHEAD, 5),
        ("e", Quality.GOOD, 6),
        ("a", Quality.GOOD, 7),
    ] == [(r.probe, r.quality, r.arrival) for r in store.after(0)]
    assert {T0 + BY} == {r.received_at for r in store.after(1)}
    assert (6, 7) == (store.counted(), store.last_arrival())
    assert 8 == store.keep(batch(reading("f"))).last_arrival


def test_values_of_unknown_time_and_refusals_were_received_when_they_were(store):
    store.keep(batch(undated=[undated(value=1.0, received_at=T0 - HOUR)], refusals=[refusal(number=-5)]))
    above = store.mark()
    store.keep(batch(undated=[undated(value=2.0)], refusals=[refusal(number=5)]))
    store.shift(shift(above))
    assert [T0 - HOUR, T0 + BY] == [u.received_at for u in store.undated()]
    assert [T0 - 5, T0 + 5 + BY] == [r.received_at for r in store.refusals()]


def test_everything_that_was_decided_above_the_mark_is_moved(store):
    store.commit(
        round_(1, transitions=[transition(1, T0 - DAY)], past=[past(1)], advice=[advice(number=1)],
               decisions=[decision()], notices=[notice(1)], diary=[entry(T0 - DAY)])
    )  # fmt: skip
    store.ask(T0 + 1, "ana", "seen", 1)
    before = store.load().last_round
    earlier = (store.transitions(), store.past_episodes(), store.advice("shed"), store.decisions(), store.diary())
    above = store.mark()
    number = 2
    store.commit(
        round_(2, transitions=[transition(2, T0 + MINUTE)], past=[past(2)], advice=[advice(number=2)],
               decisions=[decision(2)], notices=[notice(number)], diary=[entry(T0)])
    )  # fmt: skip
    store.ask(T0 + MINUTE, "ana", "seen", 2)
    store.shift(shift(above, begin=T0))
    was, now = transition(2, T0 + MINUTE), store.transitions()[-1]
    assert replace(was, at=was.at + BY, round_at=was.round_at + BY) == now
    assert [now] == store.transitions(T0 + BY, T0 + BY + HOUR)
    assert (past(2).began + BY, past(2).ended + BY) == (
        store.past_episodes()[-1].began, store.past_episodes()[-1].ended,
    )  # fmt: skip
    order = store.advice("shed")[-1].orders[0]
    assert (T0 + 2 + BY, T0 + HOUR + BY, T0 + HOUR + BY) == (
        store.advice("shed")[-1].at, store.advice("shed")[-1].valid_until, order.by,
    )  # fmt: skip
    assert (decision(2).at + BY, decision(2).until + BY) == (store.decisions()[-1].at, store.decisions()[-1].until)
    assert [T0, T0, T0 + BY, T0 + BY] == [p.notice.at for p in store.notices()]
    assert notice(2).lines == store.notices()[-1].notice.lines
    assert [T0 - DAY, T0 + BY] == [e.at for e in store.diary()]
    assert [T0 + 1, T0 + MINUTE + BY] == [r.at for r in store.asked()]
    assert [before.at, T0 + 2 * MINUTE + BY] == [r.at for r in store.rounds()]
    untouched = (
        store.transitions()[:-1], store.past_episodes()[:-1], store.advice("shed", 2)[:-1], store.decisions()[:-1],
        store.diary()[:-1],
    )  # fmt: skip
    assert earlier == untouched


def test_what_stands_is_moved_from_the_begin_of_the_stretch_on(store):
    store.commit(round_(1, alarms=[alarm(1), alarm(2, since=T0 - DAY)], untold=[untold(number=1)]))
    above = store.mark()
    store.shift(shift(above))
    first, second = store.load().alarms
    assert (T0 + BY, T0 + 4 * HOUR) == (first.since, first.raised_at), "later than now is no stamp"
    assert T0 - DAY == second.since
    assert T0 + BY == store.load().untold[0].transition.at


def test_a_post_was_sent_when_it_was_whenever_it_was_made(store):
    store.commit(round_(1, notices=[notice(1)]))
    store.sent(1, "phone", T0 + MINUTE)
    store.failed(1, "mail", T0 + 5 * MINUTE, "busy")
    above = store.mark()
    store.shift(shift(above))
    sent, waiting = store.notices()
    assert (T0, T0 + MINUTE + BY, T0 + 5 * MINUTE + BY) == (sent.notice.at, sent.sent_at, waiting.next_try)


def test_standing_documents_are_kept_with_the_shift_and_by_themselves(store):
    store.settle([Standing("clock", "now", "1"), Standing("condition", "a", "[]")])
    assert {("clock", "now"): "1", ("condition", "a"): "[]"} == store.load().standing
    store.shift(shift(store.mark(), standing=[Standing("clock", "now", "2"), Standing("condition", "a", None)]))
    assert {("clock", "now"): "2"} == store.load().standing


def test_a_stored_future_is_disowned_and_stands_in_nobodys_way(store):
    far = 73 * 365 * DAY
    store.keep(
        batch(reading(minute=-5, value=1.0), replace(reading(value=2.0), at=T0 + far, received_at=T0 + far))
    )
    store.keep(batch(replace(reading("fig-east", value=3.0, own_time=True), at=T0 + far)))
    above = store.mark()
    store.keep(batch(reading(minute=0, value=4.0)))
    store.shift(shift(above, by=0, end=T0, now=T0, overtaken=True))
    assert [(T0 - 5 * MINUTE, 1.0), (T0, 4.0)] == series(store)
    assert [("fig-west", 2.0, T0, 2)] == [(u.probe, u.value, u.received_at, u.arrival) for u in store.undated()]
    assert [T0 + far] == [at for at, _ in series(store, "fig-east")], "what a probe says itself is its own affair"
    assert (3, 4) == (store.counted(), store.last_arrival())


def test_what_cannot_be_moved_changes_nothing(store):
    above = store.mark()
    store.keep(batch(reading(), reading("fig-east", own_time=True, received_at=T0, quality=Quality.AHEAD)))
    store.commit(round_(1, transitions=[transition()]))
    before = (store.after(0), store.load(), store.transitions())

    def breaks(_):
        raise BadValue("nobody can say")

    with pytest.raises(BadValue):
        store.shift(shift(above, anew=breaks))
    assert before == (store.after(0), store.load(), store.transitions())
    assert 1 == store.keep(batch(reading())).same


def test_settings_were_taken_up_when_they_were(store):
    store.take_up(taking("1", at=T0 - DAY))
    above = store.mark()
    store.take_up(taking("2", at=T0 + MINUTE))
    store.shift(shift(above))
    assert [T0 - DAY, T0 + MINUTE + BY] == [one.at for one in store.taken_up()]
    assert (T0 - DAY, T0 + MINUTE + BY) == (store.version(1).at, store.version(2).at)


def test_a_bin_that_was_called_now_takes_nothing_of_the_clock_along(store):
    store.settle([Standing("clock", "now", "1"), Standing("bin", "now", "2")])
    store.take_up(taking("1", names=Names(bins={"now": "then"})))
    assert {("clock", "now"): "1", ("bin", "then"): "2"} == store.load().standing


def test_steps_keep_their_events(store):
    above = store.mark()
    store.commit(round_(1, transitions=[transition(event=Event.RETURNED)]))
    store.shift(shift(above))
    assert Event.RETURNED is store.transitions()[0].event
