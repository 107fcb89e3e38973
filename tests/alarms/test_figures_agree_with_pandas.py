"""Every figure of the review reckoned once more in pandas, from the words of the figures: shares no code with the product.

At both scales: as printed for a plant, and as carried over to a keeper.
"""

import pandas as pd
import pytest

from alarms.lives import T0, lives
from monitor.alarms.benchmarks import KEEPER, PLANT
from monitor.alarms.cycle import Priority
from monitor.alarms.priority import priority_of
from monitor.alarms.review import Delays, rate, review
from monitor.readings import DAY, HOUR, MINUTE

END = T0 + 35 * DAY
DELAYS = {
    "cold": Delays(HOUR, HOUR),
    "hot": Delays(0, HOUR),
    "dry": Delays(2 * HOUR, HOUR),
    "silent": Delays(45 * MINUTE),
}
TELLS = {"raised", "rose", "unsuppressed", "unshelved", "back in service"}
HUSHES = {
    "suppressed": 1,
    "unsuppressed": -1,
    "shelved": 1,
    "unshelved": -1,
    "out of service": 1,
    "back in service": -1,
}


def delays(key):
    return DELAYS[str(key.condition)]


def frame(rows):
    return pd.DataFrame(
        {
            "key": [f"{r.key.subject.id} {r.key.condition}" for r in rows],
            "number": [r.number for r in rows],
            "event": [str(r.event) for r in rows],
            "after": [str(r.after) for r in rows],
            "at": [r.at for r in rows],
            "round_at": [r.round_at for r in rows],
            "level": [str(r.level) for r in rows],
            "priority": [str(priority_of(r.key, r.level)) for r in rows],
        }
    )


def told_in(table, start, end):
    """One row for each alarm and round in which it asks for attention."""
    table = table.assign(hush=table.event.map(HUSHES).fillna(0))
    table["quiet"] = table.groupby("number").hush.cumsum()
    last = table.groupby(["number", "round_at"]).last()
    again = table.event.isin(["unsuppressed", "unshelved", "back in service"])
    seen_before = again & (table.after == "acknowledged")
    asks = table[table.event.isin(TELLS) & ~seen_before].groupby(["number", "round_at"]).size()
    last = last.loc[asks.index].reset_index()
    there = last.after.isin(["unacknowledged", "acknowledged"])
    last = last[(last.quiet == 0) & there & (last.round_at >= start) & (last.round_at < end)]
    return last.sort_values("round_at")


def spells(table):
    """One row for each time that an alarm was there."""
    raised = table[table.event == "raised"].set_index("number")
    ended = table[table.event == "returned"].set_index("number")["at"]
    seen = table[table.event == "acknowledged"].groupby("number").size()
    return pd.DataFrame(
        {
            "key": raised.key,
            "began": raised["at"],
            "ended": ended.reindex(raised.index),
            "seen": seen.reindex(raised.index).notna(),
        }
    )


def rolling_counts(times, width):
    """How many lie in (t - width, t] at each of them."""
    index = pd.to_datetime(pd.Series(times.to_numpy()), unit="ms")
    ones = pd.Series(1, index=pd.DatetimeIndex(index))
    return ones.rolling(pd.Timedelta(width, "ms"), closed="right").sum()


def flood_time(times, width, end):
    """Milliseconds in a flood, on a table of every moment at which the count within the width changes."""
    came = pd.DataFrame({"at": times, "change": 1})
    went = pd.DataFrame({"at": times + width, "change": -1})
    counts = pd.concat([came, went]).groupby("at").change.sum().cumsum()
    # several in one millisecond are made one step: the state after them decides, as it would for anybody watching
    in_flood, since, total = False, None, 0
    for at, count in counts.items():
        if not in_flood and count > 10:
            in_flood, since = True, at
        elif in_flood and count < 5:
            in_flood = False
            total += min(at, end) - since
    return total + (end - since if in_flood else 0)


@pytest.mark.parametrize("scale", [PLANT, KEEPER], ids=["plant", "keeper"])
@pytest.mark.parametrize("seed", range(12))
def test_the_figures_of_a_random_life(seed, scale):
    apart = 6 * HOUR if scale is KEEPER else 8 * MINUTE if seed % 2 else 90_000
    if scale is KEEPER and seed % 3 == 0:
        apart = 2 * HOUR
    rows = lives(seed, apart=apart)
    start = T0 + (DAY if scale is KEEPER else 10 * MINUTE)
    end = END if scale is KEEPER else max(r.round_at for r in rows) + 1
    found = review(rows, [], start=start, end=end, delays=delays, scale=scale)
    table = frame(rows)
    told, there = told_in(table, start, end), spells(table)
    width = scale.ten_minutes

    assert len(told) > 10
    assert len(told) == len(found.told)
    assert list(told.round_at) == [one.at for one in found.told]
    assert rate(len(told), end - start, scale) == pytest.approx(len(told) / ((end - start) / width))
    assert found.rate == pytest.approx(len(told) / ((end - start) / DAY))
    counts = rolling_counts(told.round_at, width)
    assert counts.max() == found.most
    periods = ((told.round_at - start) // width).value_counts()
    whole = (end - start) // width
    assert 100 * (periods[periods.index < whole] > 10).sum() / whole == pytest.approx(found.busy)
    assert 100 * flood_time(told.round_at, width, end) / (end - start) == pytest.approx(found.flood)

    mine = there[(there.began >= start) & (there.began < end)].sort_values("began")
    chattering = {}
    for key, group in mine.groupby("key"):
        delay = DELAYS[key.partition(" ")[2]]
        window = max(scale.chatter, 4 * (delay.on + delay.off))
        worst = max(((group.began >= b) & (group.began <= b + window)).sum() for b in group.began)
        if worst >= 3:
            chattering[key] = worst
    assert chattering == {f"{c.key.subject.id} {c.key.condition}": len(c.times) for c in found.chattering}

    off = mine.key.str.partition(" ")[2].map(lambda condition: DELAYS[condition].off)
    lasted = (mine.ended - mine.began - off).clip(lower=0)
    fleeting = mine[mine.ended.notna() & ~mine.seen & (lasted < scale.fleeting)]
    assert sorted(fleeting.index) == sorted(a.number for a in found.fleeting)

    ended = there.ended.fillna(float("inf"))
    stale = there[(there.began + scale.stale < end) & (ended > end)]
    assert sorted(stale.index) == sorted(a.number for a in found.stale)
    days = range(start, end, DAY)
    by_day = [
        ((there.began + scale.stale).clip(lower=d) < ended.clip(upper=min(d + DAY, end))).sum() for d in days
    ]
    assert max(by_day) == found.most_stale

    often = told.key.value_counts()
    assert sorted(often.head(10), reverse=True) == [n for _, n in found.frequent]
    assert 100 * often.iloc[0] / len(told) == pytest.approx(found.share(found.frequent[0][1]))
    shares = told.priority.value_counts().reindex([str(p) for p in Priority], fill_value=0)
    assert list(shares) == [found.priorities[p] for p in Priority]
    held = table[(table.event == "shelved") & (table.round_at >= start) & (table.round_at < end)]
    assert len(held) == found.shelved


def test_the_random_lives_hold_something_of_everything():
    held = {"chattering": 0, "fleeting": 0, "stale": 0, "floods": 0}
    for seed in range(12):
        rows = lives(seed, apart=2 * HOUR if seed % 3 == 0 else 6 * HOUR)
        found = review(rows, [], start=T0, end=END, delays=delays)
        for name in held:
            held[name] += len(getattr(found, name))
    assert all(held.values()), held
