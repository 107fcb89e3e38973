"""What bears an old id goes on under the new one: the same for every store, document by document.

Only ids change. What a keeper was told in words is history and stays as it was said.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from monitor.advice.acts import Advice, Order
from monitor.alarms import cycle
from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.findings import AlarmKey, Evidence, Kind, PastEpisode, Subject
from monitor.diary import Entry
from monitor.names import Names
from monitor.notify.notices import Decision, Notice, Untold
from monitor.readings import Millis

T = TypeVar("T")


def renamed(document: T, names: Names) -> T:
    """The document with every id as it is now; one of a kind that bears no id, or none of these, unchanged."""
    way: Callable[[Any, Names], Any] | None = _WAYS.get(type(document))
    return document if way is None else way(document, names)


def standing_key(kind: str, key: str, names: Names) -> str:
    """The key of a document that stands between rounds. It is an id (`fig`, `fig.west`, `fig-west`), or one behind
    what it is (`zone:fig.west`), with or without more behind a `/`.
    """
    subject, slash, rest = key.partition("/")
    what, colon, id_ = subject.partition(":")
    if colon and what == "person":  # a queue: the person and a place
        return f"{what}:{names.person(id_)}{slash}{names.place(rest)}"
    if colon and what in _OF_KIND:
        return f"{what}:{_OF_KIND[what](names)(id_)}{slash}{rest}"
    return f"{_OF_KIND.get(kind, _anything)(names)(subject)}{slash}{rest}"


def standing_body(kind: str, body: str, names: Names) -> str:
    """What such a document says, where ids stand in it: what was said to whom, nights that were alike, calls."""
    way = _BODIES.get(kind)
    if way is None:
        return body
    before = json.loads(body)
    after = way(before, names)
    return body if after == before else json.dumps(after, ensure_ascii=False)


def alarms(
    standing: Sequence[Alarm], names: Names, *, at: Millis
) -> tuple[list[Alarm], list[int], list[Transition]]:
    """The standing alarms that change, the numbers of those that end, and a step for each of them."""
    taken = {a.key for a in standing if _key(a.key, names) == a.key}
    changed: list[Alarm] = []
    ended: list[int] = []
    steps: list[Transition] = []
    for alarm in standing:
        after = renamed(alarm, names)
        if after.key == alarm.key:
            if after != alarm:
                changed.append(after)
        elif after.key in taken:
            ended.append(alarm.number)
            steps.extend(cycle.remove(after, "settings changed", round_at=at))
        else:
            taken.add(after.key)
            changed.append(after)
            steps.append(cycle.rename(alarm, after, round_at=at))
    return changed, ended, steps


def old_ids(names: Names) -> tuple[str, ...]:
    """Every old id, for whoever looks for documents that may have to change."""
    kinds: Iterable[Mapping[str, str]] = (
        names.places, names.bins, names.zones, names.probes, names.mats, names.people,
    )  # fmt: skip
    return tuple(dict.fromkeys(old.partition(".")[0] for kind in kinds for old in kind))


def subject(one: Subject, names: Names) -> Subject:
    """A subject under its id of today."""
    way = _OF_KIND.get(one.kind)
    return Subject(one.kind, way(names)(one.id) if way and one.id else one.id, names.place(one.place))


def _anything(names: Names) -> Callable[[str], str]:
    return names.anything


_OF_KIND: Mapping[str, Callable[[Names], Callable[[str], str]]] = {
    Kind.BIN: lambda names: names.bed,
    Kind.ZONE: lambda names: names.zone,
    Kind.PROBE: lambda names: names.probe,
    Kind.MAT: lambda names: names.mat,
    "place": lambda names: names.place,
    "person": lambda names: names.person,
    "clock": lambda _: str,  # its keys are words of ours
}


def _key(key: AlarmKey, names: Names) -> AlarmKey:
    return AlarmKey(subject(key.subject, names), key.condition)


def _evidence(evidence: Evidence | None, names: Names, key: AlarmKey) -> Evidence | None:
    """Its zones are told without their bin, which is the key's."""
    if evidence is None:
        return None

    def zone(id_: str) -> str:
        whole = id_ if "." in id_ else f"{key.subject.bed}.{id_}"
        now = names.zone(whole)
        return now if "." in id_ else now.partition(".")[2]

    return replace(
        evidence,
        probe=evidence.probe and names.probe(evidence.probe),
        zone=evidence.zone and zone(evidence.zone),
        others=tuple((zone(one), value) for one, value in evidence.others),
    )


def _alarm(one: Alarm, names: Names) -> Alarm:
    cause = one.cause and _key(one.cause, names)
    return replace(
        one,
        key=_key(one.key, names),
        cause=cause,
        evidence=_evidence(one.evidence, names, one.key) or one.evidence,
        work=one.work and replace(one.work, bed=names.bed(one.work.bed)),
    )


def _transition(one: Transition, names: Names) -> Transition:
    return replace(
        one,
        key=_key(one.key, names),
        evidence=_evidence(one.evidence, names, one.key),
        who=one.who and names.person(one.who),
    )


def _past(one: PastEpisode, names: Names) -> PastEpisode:
    return replace(one, key=_key(one.key, names), evidence=_evidence(one.evidence, names, one.key) or one.evidence)


def _advice(one: Advice, names: Names) -> Advice:
    return replace(one, place=names.place(one.place), orders=tuple(_order(order, names) for order in one.orders))


def _order(one: Order, names: Names) -> Order:
    return replace(one, target=names.anything(one.target), bins=tuple(names.bed(bed) for bed in one.bins))


def _notice(one: Notice, names: Names) -> Notice:
    return replace(one, person=names.person(one.person), place=names.place(one.place))


def _decision(one: Decision, names: Names) -> Decision:
    return replace(one, person=names.person(one.person))


def _untold(one: Untold, names: Names) -> Untold:
    return replace(
        one,
        person=names.person(one.person),
        place=names.place(one.place),
        transition=_transition(one.transition, names),
    )


def _entry(one: Entry, names: Names) -> Entry:
    kind, colon, id_ = one.subject.partition(":")
    way = _OF_KIND.get(kind)
    now = f"{kind}:{way(names)(id_)}" if way and colon else names.anything(one.subject)
    return replace(one, who=names.person(one.who), subject=now)


_WAYS: Mapping[type, Callable[[Any, Names], Any]] = {
    Alarm: _alarm,
    Transition: _transition,
    PastEpisode: _past,
    Advice: _advice,
    Notice: _notice,
    Decision: _decision,
    Untold: _untold,
    Entry: _entry,
}


def _act(text: str, names: Names) -> str:
    """`mat on/long-mat`: an act on a target."""
    act, slash, target = text.partition("/")
    return f"{act}{slash}{names.anything(target)}"


def _said(body: dict[str, Any], names: Names) -> dict[str, Any]:
    return {_act(act, names): said for act, said in body.items()}


def _habit(body: dict[str, Any], names: Names) -> dict[str, Any]:
    acts = {key: [_act(act, names) for act in body[key]] for key in ("acts", "tonight")}
    told = [[names.person(who), at] for who, at in body["told"]]
    return {**body, **acts, "told": told, "place": names.place(body["place"])}


def _call(body: list[Any], names: Names) -> list[Any]:
    alarm, asked, answered = body
    return [alarm, [[names.person(who), at] for who, at in asked], answered]


_BODIES: Mapping[str, Callable[[Any, Names], Any]] = {"said": _said, "habit": _habit, "call": _call}
"""Standing documents in which ids stand. One of another kind bears its id in its key alone."""
