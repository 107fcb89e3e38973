"""The post: what was written to whom and what became of it; one notice with why; and what came of a test."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from monitor import words
from monitor.addresses import Channel
from monitor.errors import SendError
from monitor.notify.notices import Notice, Post
from monitor.readings import DAY, Millis
from monitor.reports.notes import plain
from monitor.reports.post_shapes import NoticeShape, NoticesShape, TestShape, TriedShape, WhyToldShape
from monitor.reports.saying import Saying, instant, millis
from monitor.reports.shapes import SentShape
from monitor.rules import Rules
from monitor.store.promises import Store

POSTS = 10_000
"""So many of the newest posts are looked through."""


def notices_facts(store: Store, at: Millis, *, days: float, person: str | None) -> NoticesShape:
    """The notices of so many days, newest last; those to one person if given."""
    found = [n for n in _notices(store).values() if n[0].notice.at >= at - days * DAY]
    return {"notices": [_facts(posts, ()) for posts in found if person in (None, posts[0].notice.person)]}


def notice_facts(store: Store, number: int) -> NoticesShape | None:
    """One notice whole, with why it was written; None when there is none of that number."""
    posts = _notices(store).get(number)
    if posts is None:
        return None
    return {"notices": [_facts(posts, _why(store, posts[0].notice))]}


def _notices(store: Store) -> dict[int, list[Post]]:
    found: dict[int, list[Post]] = {}
    for post in store.notices(POSTS):
        found.setdefault(post.notice.number, []).append(post)
    return found


def _why(store: Store, notice: Notice) -> Iterator[WhyToldShape]:
    for number in (0, *notice.alarms):
        for one in store.story(number).decisions if number else store.decisions(0, POSTS):
            if one.notice == notice.number:
                yield {"alarm": number, "event": one.event, "reason": one.reason}


def _facts(posts: Iterable[Post], why: Iterable[WhyToldShape]) -> NoticeShape:
    posts = list(posts)
    notice = posts[0].notice
    return {
        "number": notice.number,
        "at": instant(notice.at),
        "person": notice.person,
        "place": notice.place,
        "slot": str(notice.slot),
        "woke": notice.woke,
        "lines": list(notice.lines),
        "more": list(notice.more),
        "alarms": list(notice.alarms),
        "sent": [sent_facts(post) for post in posts],
        "why": list(why),
    }


def sent_facts(post: Post) -> SentShape:
    """What became of a notice on one channel."""
    return {
        "channel": post.channel,
        "state": str(post.state),
        "tries": post.tries,
        "sent_at": instant(post.sent_at) if post.sent_at is not None else None,
        "error": plain(post.last_error),
    }


def notices_text(facts: NoticesShape, saying: Saying) -> str:
    """One line for each notice, and what became of it on each channel."""
    if not facts["notices"]:
        return "Nobody was written to in that time."
    return "\n".join(line for one in facts["notices"] for line in _short(one, saying))


def _short(one: NoticeShape, saying: Saying) -> Iterator[str]:
    yield f"{one['number']}  {saying.clock(millis(one['at']))}, to {one['person']} ({one['slot']}): {one['lines'][0]}"
    for sent in one["sent"]:
        if sent["state"] != "sent":
            error = f": {words.shorten(sent['error'])}" if sent["error"] else ""
            tries = words.amount(sent["tries"], "try", "tries")
            yield f"   {sent['state']} on {sent['channel']} after {tries}{error}"


def notice_text(facts: NoticesShape, saying: Saying) -> str:
    """One notice as it was read, why it was written, and what stands behind it."""
    (one,) = facts["notices"]
    lines = [f"Notice {one['number']}, {saying.clock(millis(one['at']))}, to {one['person']} ({one['slot']})."]
    lines += [f"   {line}" for line in one["lines"]]
    told = [f"alarm {w['alarm']}, {w['event']}: {w['reason']}" if w["alarm"] else w["reason"] for w in one["why"]]
    lines += ["", "Why it was written:", *(f"   {line}" for line in told or ["It was asked for in the settings."])]
    lines += ["", "What became of it:", *(f"   {_state(sent, saying)}" for sent in one["sent"])]
    if one["more"]:
        lines += ["", "What stands behind it:", *(f"   {line}" for line in one["more"])]
    return "\n".join(lines)


def _state(sent: SentShape, saying: Saying) -> str:
    if sent["sent_at"] is not None:
        return f"sent by {sent['channel']} {saying.when(millis(sent['sent_at']))}."
    error = f": {sent['error']}" if sent["error"] else ""
    return f"{sent['state']} on {sent['channel']} after {words.amount(sent['tries'], 'try', 'tries')}{error}."


# ── trying it ─────────────────────────────────────────────────────────────────────────────────────────────────


def tried(
    channels: Mapping[str, Channel], rules: Rules, to: str | None, *, send: Callable[[Channel, str, str], None]
) -> TestShape | None:
    """A test notice really sent on every channel, on one, or on those of one person; None when `to` is neither."""
    if to is None:
        names = list(channels)
    elif to in rules.people:
        names = list(rules.people[to].channels)
    elif to in channels:
        names = [to]
    else:
        return None
    return {"tried": [_tried(name, channels[name], rules, send) for name in names]}


def _tried(name: str, channel: Channel, rules: Rules, send: Callable[[Channel, str, str], None]) -> TriedShape:
    people = [p.id for p in rules.people.values() if name in p.channels]
    title = f"Vermistat: a test from {rules.site.name}"
    body = (
        f"Nothing is the matter. This is how notices to {words.joined(people) or 'nobody yet'} arrive on {name}."
    )
    error = ""
    try:
        send(channel, words.shorten(title, 90), body)
    except SendError as failed:
        error = str(failed)
    return {"channel": name, "people": people, "delivered": not error, "error": error}


def tried_text(facts: TestShape) -> str:
    """What came of it on each channel."""
    if not facts["tried"]:
        return "The settings name no channel, so nothing was sent."
    return "\n".join(
        f"{one['channel']}: delivered. Look whether it has come to {words.joined(one['people']) or 'you'}."
        if one["delivered"]
        else f"{one['channel']}: NOT delivered: {one['error']}"
        for one in facts["tried"]
    )
