"""A sender in a process of its own, to be killed: python outbox_child.py STORE URL MODE

`pauses-after-sending` stops between sending and marking, `marks-first` is the wrong order on purpose (it stops
between marking and sending), `plain` goes on until nothing waits.
"""

import sys
import threading

from monitor.addresses import Secret
from monitor.clock import Patience, WallClock
from monitor.notify.outbox import Outbox
from monitor.notify.send import send
from monitor.store.sqlite import SqliteStore


def say_and_wait(word):
    print(word, flush=True)
    threading.Event().wait(60)


class PausesAfterSending:
    def __init__(self, store):
        self._store = store

    def sent(self, *args):
        say_and_wait("sent, not marked")
        self._store.sent(*args)

    def __getattr__(self, name):
        return getattr(self._store, name)


def main(path, url, mode):
    store = SqliteStore(path)

    def deliver(channel, post):
        if mode == "marks-first":
            store.sent(post.notice.number, channel, WallClock().now())
            say_and_wait("marked, not sent")
        send(Secret(url), post.notice.title, post.notice.body)

    outbox = Outbox(
        store=PausesAfterSending(store) if mode == "pauses-after-sending" else store,
        send=deliver,
        now=WallClock().now,
        patience=Patience(),
        beat=lambda: None,
    )
    outbox.start()
    while store.waiting():
        threading.Event().wait(0.01)
    outbox.stop()
    store.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
