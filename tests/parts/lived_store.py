"""A cold morning, lived by the rounds of this program and kept by its store: for `fixtures/store`, one for each schema there was.

    PYTHONPATH=.:tests .venv/bin/python tests/parts/lived_store.py fixtures/store

writes `lived-N.sql`, N being how many steps the store has now, and beside it what this program itself reads out of it. Whoever
adds a step runs it once, with the step; the files of earlier schemas stay as the programs of their time made them.
"""

import json
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from monitor.readings import HOUR, Refusal, RefusalKind, Undated
from monitor.store.migrations import STEPS
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.house import House

PROBES = ["fig-west", "fig-east", "fig-mat", "plum-near"]
EVER = 2**60


def lived(path):
    """The store, open."""
    store = SqliteStore(path, now=orchard.ms("09:00"))
    house = House(store=store)
    well = {"plum_near": 18.0, "fig_mat": 24.0}
    house.say(fig_west=24.0, fig_east=23.5, **well)
    for _ in range(2):
        house.later(15).say(fig_west=11.4, fig_east=11.125, **well)
    refused = Refusal("probes/fig", None, RefusalKind.NOT_JSON, "no JSON", b"\xff", house.at)
    store.keep(Batch(refusals=[refused], undated=[Undated("plum-near", 8.0, house.at)]))
    post = store.due(EVER)[0]
    store.sent(post.notice.number, post.channel, house.at)
    store.ask(house.at, "ana", "seen", 1, "I go")
    house.later(15).say(fig_west=11.5, fig_east=11.25, **well)
    store.ask(house.at, "ana", "done", 1, "two blankets")
    house.later(15).say(fig_west=12.5, fig_east=12.25, **well)
    store.ask(house.at, "ben", "seen", 1, "me too")
    while store.summarise(house.at + 5 * HOUR):
        pass
    return store


def facts(store):
    """What is read out of it by its own questions."""
    past = store.load()
    return {
        "readings": {
            p: [[r.at, r.value, str(r.quality), r.arrival] for r in store.window(p, 0, EVER)] for p in PROBES
        },
        "alarms": [
            [a.number, a.key.subject.id, str(a.key.condition), str(a.state), str(a.level)] for a in past.alarms
        ],
        "steps": [[t.at, t.number, str(t.event), str(t.after), t.who] for t in store.transitions()],
        "notices": sorted(
            [p.notice.number, p.notice.person, p.channel, p.notice.title, str(p.state)] for p in store.notices()
        ),
        "diary": [[e.at, e.who, str(e.deed), e.text] for e in store.diary()],
        "rounds": [[r.number, r.at, r.upto_arrival] for r in store.rounds()],
        "asked": [[r.id, r.who, r.what, r.alarm, r.note] for r in store.asked()],
        "undated": [[u.probe, u.value, u.received_at] for u in store.undated()],
        "refused": [[topic, str(kind), count] for (topic, kind), count in store.refusal_counts().items()],
        "next": [past.next_alarm, past.next_notice],
    }


def hours(path):
    """The hours that were summed up, as they lie in the file."""
    with closing(sqlite3.connect(path)) as file:
        return file.execute(
            "SELECT p.name, h.hour, h.count, h.low, h.high FROM hour h JOIN probe p ON p.number = h.probe ORDER BY 1, 2"
        ).fetchall()


def main(folder):
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "kept.db"
        store = lived(path)
        told = facts(store)
        store.close()
        told["hours"] = hours(path)
        with closing(sqlite3.connect(path)) as file:
            (application,) = file.execute("PRAGMA application_id").fetchone()
            said = [
                f"-- A cold morning, kept by the program when its store had {len(STEPS)} steps (tests/parts/lived_store.py).",
                f"PRAGMA application_id = {application};",
                *file.iterdump(),
                f"PRAGMA user_version = {len(STEPS)};",
            ]
    (folder / f"lived-{len(STEPS)}.sql").write_text("\n".join(said) + "\n")
    each = ",\n".join(f"{json.dumps(key)}: {json.dumps(value, ensure_ascii=False)}" for key, value in told.items())
    (folder / f"lived-{len(STEPS)}.json").write_text(f"{{\n{each}\n}}\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
