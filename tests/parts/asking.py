"""What people ask for, left in a house's store as the commands leave it, and taken up by the next round."""

import json

from monitor.readings import HOUR


def ask(house, what, alarm=0, who="ana", note="", **body):
    """One request now, and the round that takes it up."""
    house.store.ask(house.at, who, what, alarm, note, body=json.dumps(body))
    return house.rounds.run()


def shelve(house, alarm, hours=4, **more):
    return ask(house, "shelve", alarm, **{"for": round(hours * HOUR)}, **more)


def work(house, bed="fig", hours=2, **more):
    """`hours` 0 is done."""
    return ask(house, "working", **{"for": round(hours * HOUR)}, bin=bed, **more)


def told(house):
    """The first line of every notice so far, one for each notice."""
    found = {post.notice.number: post.notice.title for post in house.store.notices(1000)}
    return [found[number] for number in sorted(found)]


def reasons(house, alarm):
    """(event, verdict, reason) of every decision about an alarm."""
    return [(d.event, str(d.verdict), d.reason) for d in house.store.decisions(alarm, 1000)]
