"""Bins that are kept alike: one profile, many ids. Unfolded in the written data, before anything is compared, so that
every value keeps the place where the keeper wrote it.

`<bin>` stands for the bin's id and `<number>` for the digits it ends with. What a bin writes under `bins:` itself goes
before what its profile says: a whole key, but for `limits` (each limit by itself) and `zones` (each zone by itself).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

from monitor.settings.mistakes import Data, Misread, Paper, Path, Spot, meant, quoted

MOST_BINS = 10_000
"""Of one range and of all profiles together; more is a slip of the finger."""
MOST_PROBES = 50_000
"""Of all bins that profiles keep; more is the same slip, or made to hurt."""
FILLED = re.compile(r"<(bin|number)>")
_ODD = re.compile(r"<[^<>]*>")
_ID = re.compile(r"[a-z][a-z0-9-]{0,31}")
_RANGE = re.compile(
    r"(?P<stem>[a-z][a-z0-9-]*?)(?P<low>[0-9]{1,9})\.\.(?P<again>[a-z][a-z0-9-]*?)(?P<high>[0-9]{1,9})"
)
DIFFERS = ("topic", "field", "name")
"""Where two probes may read from different places: in one of them must stand which bin it is."""


class _Kept(NamedTuple):
    """A bin that is kept by a profile, and where that is said."""

    bin: str
    profile: str
    said: Path


def unfold(paper: Paper) -> None:
    """Put every bin that is kept by a profile under `bins`, and note what is wrong with saying so."""
    profiles, bins = paper.raw("profiles"), paper.raw("bins")
    if not isinstance(profiles, dict):
        _without_any(paper, bins)
        return
    kept = list(_kept(paper, profiles, bins))
    for profile in profiles:
        _look_at(paper, profile)
        if not any(one.profile == profile for one in kept) and paper.whole(("profiles", profile)):
            hint = "Write `bins:` and their ids, or `like:` in a bin."
            paper.wrong(("profiles", profile), f"No bin is kept by the profile {quoted(profile)}.", hint, key=True)
    _not_too_many(paper, profiles, kept)
    if paper.mistakes:  # one bin of each shows what else there is; more would say the same
        first = {one.profile: one for one in reversed(kept)}
        own = bins if isinstance(bins, dict) else {}
        kept = [one for one in kept if one.bin in own or first[one.profile] is one]
    _fold_out(paper, kept)


def _not_too_many(paper: Paper, profiles: dict[str, Data], kept: list[_Kept]) -> None:
    """A profile of many zones and many bins is written in a line and unfolds into millions."""
    probes = {
        name: sum(
            len(paper.keys("profiles", name, "zones", z, "probes")) for z in paper.keys("profiles", name, "zones")
        )
        for name in profiles
    }
    if sum(probes[one.profile] for one in kept) > MOST_PROBES:
        path: Path = ("profiles", max(probes, key=lambda name: probes[name]))
        said = f"More than {MOST_PROBES:,} probes are written by profiles."
        paper.wrong(path, said, "Write fewer zones or fewer bins.", key=True)


def _without_any(paper: Paper, bins: Data) -> None:
    for bed, data in bins.items() if isinstance(bins, dict) else ():
        if isinstance(data, dict) and data.get("like") is not None:
            said = f"{quoted(data['like'])} is no profile of this file."
            paper.wrong(("bins", bed, "like"), said, "Write it under `profiles:`, or delete this line.")


# ── who is kept by which ──────────────────────────────────────────────────────────────────────────────────────


def _kept(paper: Paper, profiles: dict[str, Data], bins: Data) -> Iterator[_Kept]:
    taken: dict[str, str] = {}
    for profile, data in profiles.items():
        for one in _listed(paper, profile, data):
            if one.bin in taken:
                said = f"{quoted(one.bin)} is kept by the profile {quoted(taken[one.bin])} already."
                paper.wrong(one.said, said, "A bin has one profile: keep one of them.")
            else:
                taken[one.bin] = profile
                yield one
            if len(taken) > MOST_BINS:
                paper.wrong(
                    one.said, f"More than {MOST_BINS:,} bins are written here.", "Is a digit too much in one?"
                )
                return
    for bed, data in bins.items() if isinstance(bins, dict) else ():
        like = data.get("like") if isinstance(data, dict) else None
        path: Path = ("bins", bed, "like")
        if not isinstance(like, str):
            continue
        if like not in profiles:
            paper.misread(("bins", bed))
            paper.wrong(path, f"{quoted(like)} is no profile of this file.", meant(like, profiles))
        elif taken.get(bed, like) != like:
            said = f"{quoted(bed)} is kept by the profile {quoted(taken[bed])} already."
            paper.misread(("bins", bed))
            paper.wrong(path, said, "A bin has one profile: keep one of them.")
        elif bed not in taken:
            yield _Kept(bed, like, ("bins", bed))


def _listed(paper: Paper, profile: str, data: Data) -> Iterator[_Kept]:
    written = data.get("bins") if isinstance(data, dict) else None
    at: Path = ("profiles", profile, "bins")
    items = [(at, written)] if isinstance(written, str) else []
    if isinstance(written, list):
        items = [((*at, index), one) for index, one in enumerate(written) if isinstance(one, str)]
    for path, text in items:
        try:
            yield from (_Kept(bed, profile, path) for bed in ids(text))
        except Misread as misread:
            paper.misread(path)
            paper.wrong(path, misread.sentence, misread.hint)


def ids(text: str) -> list[str]:
    """`row-001..row-480` as every id of it, one id as itself. Raises Misread."""
    if _ID.fullmatch(text.strip()):
        return [text.strip()]
    found = _RANGE.fullmatch(text.strip())
    if found is None or found["stem"] != found["again"]:
        hint = "Write row-07, or both ids whole, alike but for the number at their end: row-01..row-40."
        raise Misread(f"{quoted(text)} is neither an id nor a range of ids.", hint)
    low, high, width = int(found["low"]), int(found["high"]), len(found["low"])
    if low >= high:
        raise Misread(
            f"In {quoted(text)} the first id does not come before the last.", "Write the lower one first."
        )
    if len(found["high"]) != width > 1 and found["low"].startswith("0"):
        raise Misread(f"{quoted(text)} is written with numbers of two lengths.", "Write both with as many digits.")
    if high - low >= MOST_BINS:
        raise Misread(f"{quoted(text)} is more than {MOST_BINS} bins.", "Is a digit too much in it?")
    return [f"{found['stem']}{number:0{width}d}" for number in range(low, high + 1)]


# ── the profile itself ────────────────────────────────────────────────────────────────────────────────────────


def _look_at(paper: Paper, profile: str) -> None:
    """What would be the same in every bin and must not be, and patterns that nothing fills in."""
    at: Path = ("profiles", profile)
    name = paper.raw(*at, "name")
    if isinstance(name, str) and not FILLED.search(name):
        paper.wrong(
            (*at, "name"), "Every bin would have the same name.", "Write <bin> or <number> in it, or delete it."
        )
    for path, text in _texts(paper.raw(*at), at):
        odd = next((found[0] for found in _ODD.finditer(text) if not FILLED.fullmatch(found[0])), None)
        if odd is not None:
            paper.wrong(
                path, f"{quoted(odd)} is filled in by nothing.", "Write <bin> for the bin's id, or <number>."
            )
    for zone in paper.keys(*at, "zones"):
        for probe in paper.keys(*at, "zones", zone, "probes"):
            _look_at_probe(paper, (*at, "zones", zone, "probes", probe))


def _look_at_probe(paper: Paper, path: Path) -> None:
    probe, places = str(path[-1]), [paper.raw(*path, key) for key in DIFFERS]
    if not FILLED.search(probe):
        hint = f"Write {quoted(f'<bin>-{probe}')}."
        paper.wrong(path, f"Every bin would have the same probe {quoted(probe)}.", hint, key=True)
    elif isinstance(places[0], str) and not any(isinstance(p, str) and FILLED.search(p) for p in places):
        hint = "Write <bin> or <number> where they differ, for example probes/<bin>."
        paper.wrong((*path, "topic"), "Every bin would read the same value.", hint)


def _texts(data: Data, path: Path) -> Iterator[tuple[Path, str]]:
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for step, value in inner:
        if isinstance(step, str):
            yield (*path, step), step
        if isinstance(value, str):
            yield (*path, step), value
        else:
            yield from _texts(value, (*path, step))


# ── folding out ───────────────────────────────────────────────────────────────────────────────────────────────


def _fold_out(paper: Paper, kept: list[_Kept]) -> None:
    bins = paper.data.get("bins")
    if not (bins is None or isinstance(bins, dict)):
        return
    if not isinstance(bins, dict):
        if not kept:
            paper.misread(("bins",))
        bins = paper.data["bins"] = {}
        paper.spots.keys["bins"] = replace(paper.spots.keys["profiles"], keys={}, items=[])
    for one in kept:
        profile = paper.raw("profiles", one.profile)
        own, there = bins.get(one.bin), paper.spots.find(one.said)
        if not isinstance(profile, dict) or not (own is None or isinstance(own, dict)):
            continue
        own_spot = paper.spots.keys["bins"].keys.get(one.bin) or replace(there, keys={}, items=[])
        pattern = paper.spots.find(("profiles", one.profile))
        data, spot = _filled(_without(profile), pattern, _Fill(one.bin))
        bins[one.bin], paper.spots.keys["bins"].keys[one.bin] = _over(data, spot, own or {}, own_spot)
        paper.kept[one.bin] = one.profile


def _without(profile: dict[str, Data]) -> dict[str, Data]:
    return {key: value for key, value in profile.items() if key != "bins"}


class _Fill:
    """Fills a bin's id into texts; what has nothing to fill in is passed on as it is."""

    def __init__(self, bed: str) -> None:
        digits = re.search(r"[0-9]+$", bed)
        self.values = {"bin": bed, "number": digits[0] if digits else bed}

    def __call__(self, text: str) -> str:
        return FILLED.sub(lambda found: self.values[found[1]], text) if "<" in text else text


def _filled(data: Any, spot: Spot, fill: _Fill) -> tuple[Any, Spot]:
    """The data for one bin, and its spots: the profile's own, under the ids of the bin."""
    if isinstance(data, str):
        return fill(data), spot
    if isinstance(data, list):
        return [_filled(one, at, fill)[0] for one, at in zip(data, spot.items, strict=True)], spot
    if not isinstance(data, dict):
        return data, spot
    filled = {fill(key): _filled(value, spot.keys[key], fill) for key, value in data.items()}
    changed = any(spot.keys.get(key) is not at for key, (_, at) in filled.items())
    values = {key: value for key, (value, _) in filled.items()}
    return values, replace(spot, keys={key: at for key, (_, at) in filled.items()}) if changed else spot


def _over(data: dict[str, Data], spot: Spot, own: dict[str, Data], own_spot: Spot) -> tuple[dict[str, Data], Spot]:
    """A bin's own before its profile's; of limits each by itself, of zones each as a whole."""
    values, keys = dict(data), dict(spot.keys)
    for key, value in own.items():
        theirs = data.get(key)
        if key in ("limits", "zones") and isinstance(theirs, dict) and isinstance(value, dict):
            values[key], keys[key] = _pieces(
                theirs, spot.keys[key], value, own_spot.keys[key], deep=key == "limits"
            )
        else:
            values[key], keys[key] = value, own_spot.keys[key]
    return values, replace(own_spot, keys=keys)


def _pieces(
    theirs: dict[str, Data], their_spot: Spot, own: dict[str, Data], own_spot: Spot, *, deep: bool
) -> tuple[dict[str, Data], Spot]:
    values, keys = dict(theirs), dict(their_spot.keys)
    for key, value in own.items():
        before = theirs.get(key)
        if deep and isinstance(before, dict) and isinstance(value, dict):
            values[key], keys[key] = _pieces(before, their_spot.keys[key], value, own_spot.keys[key], deep=False)
        else:
            values[key], keys[key] = value, own_spot.keys[key]
    return values, replace(own_spot, keys=keys)
