"""Whether the page is served: kept by the daemon, shown by whoever asks how things are."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

from monitor.readings import Millis
from monitor.reports.notes import plain
from monitor.reports.saying import instant
from monitor.store.promises import Past, Standing, Store

if TYPE_CHECKING:
    from monitor.reports.shapes import NoteShape

KIND, KEY = "page", "trouble"


def note_trouble(store: Store, trouble: str | None, at: Millis) -> None:
    """Keep why the page is not served, or that it is."""
    if trouble is not None:
        store.settle([Standing(KIND, KEY, json.dumps({"at": at, "what": trouble}))])
    elif (KIND, KEY) in store.load().standing:
        store.settle([Standing(KIND, KEY, None)])


def note_facts(past: Past) -> Iterator[NoteShape]:
    """What `now` says of it: nothing while it is served."""
    body = past.standing.get((KIND, KEY))
    if body is not None:
        found = json.loads(body)
        said = (
            f"The page is not served at {plain(found['what'])}. The bins are watched all the same. End what listens"
            " there or write another `listen` below `page:`, and start `vermistat run` anew."
        )
        yield {"kind": "no page", "about": "", "sentence": said, "at": instant(found["at"]), "count": 1}
