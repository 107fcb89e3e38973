"""What a keeper would have otherwise, as a change of the keeper's own files: a limit, a delay or a deadband of a bin, a zone, a
profile or the site, written as in the settings. Nothing is written here; what would stand is read as settings and shown.

    fig.temperature.comfort=20..28 °C              fig.west.moisture.deadband=2
    profiles.row.temperature.comfort_delay=2 h     fig.temperature.harm.below=14 °C lasting 4 h
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from difflib import SequenceMatcher
from pathlib import Path as FilePath

from monitor.errors import BadValue, RequestError
from monitor.readings import Measures, Millis
from monitor.rules import Harm, Limits, Rules, Units
from monitor.settings import editing
from monitor.settings import quantities as q
from monitor.settings.limits import QUANTITY
from monitor.settings.loading import Settings, load
from monitor.settings.mistakes import Misread, Path, meant
from monitor.settings.readers import lasting

PLAIN = ("comfort", "deadband", "comfort_delay", "off_delay")
KEYS = (*PLAIN, "harm.below", "harm.above")
_ALLOWED = frozenset("0123456789+-−., °%℃℉abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ")
_LASTING = " lasting "


@dataclass(frozen=True, slots=True)
class Wish:
    """One value wished for: `whose` is the path in the settings down to what has `limits`, `value` as it would be written."""

    whose: tuple[str, ...]
    measure: Measures
    key: str
    value: str
    lasting: str | None = None

    @property
    def said(self) -> str:
        """As it is typed."""
        own = self.whose[1:] if self.whose[0] == "bins" else self.whose
        name = ".".join(step for step in own if step != "zones")
        last = "" if self.lasting is None else f"{_LASTING}{self.lasting}"
        return f"{name}.{self.measure}.{self.key}={self.value}{last}"

    @property
    def subject(self) -> str:
        """Whom it is about, as the diary names it; empty for a profile and the site."""
        if self.whose[0] != "bins":
            return ""
        return f"zone:{self.whose[1]}.{self.whose[3]}" if len(self.whose) > 2 else f"bin:{self.whose[1]}"


@dataclass(frozen=True, slots=True)
class Edit:
    """One file as it was read and as it would be."""

    file: FilePath
    before: bytes
    after: bytes

    def lines(self) -> Iterator[tuple[int, str, str]]:
        """(line, what stands there, what would stand there) of each line that differs; empty where none does."""
        old, new = (text.decode("utf-8-sig").splitlines() for text in (self.before, self.after))
        for kind, low, high, start, end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
            if kind != "equal":
                for number in range(max(high - low, end - start)):
                    was = old[low + number] if low + number < high else ""
                    yield start + number + 1, was, new[start + number] if start + number < end else ""


@dataclass(frozen=True, slots=True)
class Wished:
    """What would stand: the files that change, and the settings they make."""

    wishes: tuple[Wish, ...]
    edits: tuple[Edit, ...]
    settings: Settings


def wish_of(text: str, rules: Rules, profiles: Sequence[str] = ()) -> Wish:
    """Reads `fig.temperature.comfort=20..28 °C`. Raises RequestError with what could have been meant."""
    name, equals, value = (part.strip() for part in text.partition("="))
    steps = name.split(".")
    harm = ".".join(steps[-2:]) if len(steps) > 3 and steps[-2] == "harm" else ""
    key, rest = (harm, steps[:-2]) if harm else (steps[-1], steps[:-1])
    if not equals or not value or len(rest) < 2:
        raise RequestError(
            f"{text!r} is no limit with a value; write for example fig.temperature.comfort='20..28 °C'"
        )
    if key not in KEYS:
        raise RequestError(f"{key!r} is nothing that can be tried. {meant(key, KEYS)}")
    if rest[-1] not in QUANTITY:
        raise RequestError(f"{rest[-1]!r} has no limits. {meant(rest[-1], map(str, QUANTITY))}")
    value, _, last = (part.strip() for part in value.partition(_LASTING))
    if not set(value + last) <= _ALLOWED:
        raise RequestError(
            f"{value!r} cannot be written into the settings; write it as it stands there: 20..28 °C"
        )
    whose = _whose(rest[:-1], rules, profiles)
    return Wish(whose, Measures(rest[-1]), key, value, last or None)


def _whose(steps: Sequence[str], rules: Rules, profiles: Sequence[str]) -> tuple[str, ...]:
    first, *more = steps
    if first in rules.bins:
        return ("bins", first, *_zone_of(more, first, [zone.id for zone in rules.bins[first].zones]))
    if first == "site" and not more:
        return ("site",)
    if first == "profiles" and more and more[0] in profiles:
        return ("profiles", more[0], *_zone_of(more[1:], more[0], None))
    known = [*rules.bins, *(f"profiles.{name}" for name in profiles), "site"]
    raise RequestError(f"no bin of the settings is called {first!r}. {meant('.'.join(steps), known)}")


def _zone_of(more: Sequence[str], whose: str, zones: Sequence[str] | None) -> tuple[str, ...]:
    if not more:
        return ()
    if len(more) > 1 or (zones is not None and more[0] not in zones):
        raise RequestError(f"{whose} has no zone {'.'.join(more)!r}. {meant(more[0], zones or ())}")
    return ("zones", more[0])


def wished(
    settings: Settings, wishes: Sequence[Wish], *, environ: Mapping[str, str], today: date | None = None
) -> Wished:
    """What the files would be with these wishes, and the settings they would make.

    Raises RequestError where a file cannot be changed without touching anything else, or is no longer what was read;
    SettingsError where the settings would be refused.
    """
    raw = {file: _read(file) for file in settings.files}
    texts = {file: _decoded(file, body) for file, body in raw.items()}
    if [text for _, text in settings.texts] != list(texts.values()):
        raise RequestError("the settings were changed a moment ago; look at them again")
    for wish in wishes:
        file = _where(texts, wish)
        path, value = _written(texts[file], wish, settings.rules)
        try:
            texts[file] = editing.put(texts[file], path, value)
        except BadValue as error:
            raise RequestError(f"{file}: {error}. Write {wish.said.partition('=')[0]} yourself") from None
    after = load(settings.named, environ=environ, today=today, need_secrets=False, instead=texts)
    edits = (Edit(file, body, _encoded(body, texts[file])) for file, body in raw.items())
    return Wished(tuple(wishes), tuple(edit for edit in edits if edit.before != edit.after), after)


def profiles_of(settings: Settings) -> list[str]:
    """The profiles that are written in the files."""
    found = [editing.at(text, ("profiles",)) for _, text in settings.texts]
    return [name.value for node in found if node is not None for name, _ in node.pairs]


def _read(file: FilePath) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise RequestError(f"{file} cannot be read ({(error.strerror or 'not a file').lower()})") from None


def _decoded(file: FilePath, body: bytes) -> str:
    try:
        return body.removeprefix(codecs.BOM_UTF8).decode()
    except UnicodeDecodeError:
        raise RequestError(f"{file} is not UTF-8 any more") from None


def _encoded(before: bytes, text: str) -> bytes:
    return (codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b"") + text.encode()


def _where(texts: Mapping[FilePath, str], wish: Wish) -> FilePath:
    """The file in which most of the way there is written."""
    path = (*wish.whose, "limits", str(wish.measure), wish.key.partition(".")[0])
    depths = {file: editing.depth(text, path) for file, text in texts.items()}
    best = max(depths, key=lambda file: depths[file])
    if depths[best] < len(wish.whose) > 2:
        said = "has no zone of its own in the files; its profile has, or the bin as a whole can"
        raise RequestError(f"{wish.whose[1]} {said}")
    return best


def _written(text: str, wish: Wish, rules: Rules) -> tuple[Path, str]:
    """Where a wish goes in a text, and what is put there."""
    base: Path = (*wish.whose, "limits", str(wish.measure))
    if wish.key in PLAIN:
        if wish.lasting is not None:
            raise RequestError(f"{wish.key} lasts as long as it does; `lasting` belongs to a harm")
        return (*base, wish.key), wish.value
    return _harm(text, wish, rules, (*base, "harm"))


def _harm(text: str, wish: Wish, rules: Rules, path: Path) -> tuple[Path, str]:
    side = wish.key.partition(".")[2]
    node = editing.at(text, path)
    if node is None or node.nothing:
        return path, _whole_harm(wish, rules)
    if node.kind == "text":
        if wish.lasting is not None:
            raise RequestError(
                "harm is written there as both ends in one, which all last as long; write them apart first"
            )
        return path, _both_ends(node.value, side, wish.value)
    found = [
        (index, item)
        for index, item in enumerate(node.items)
        if item.under(side) is not None and (wish.lasting is None or _lasts(item) == _asked(wish))
    ]
    if len(found) != 1:
        raise RequestError(_which(found or list(enumerate(node.items)), side, none=not found))
    return (*path, found[0][0], side), wish.value


def _asked(wish: Wish) -> Millis | None:
    return None if wish.lasting is None else _span(wish.lasting)


def _lasts(item: editing.Node) -> Millis | None:
    node = item.under("lasting")
    return 0 if node is None or node.nothing else _span(node.value)


def _span(text: str) -> Millis | None:
    try:
        return lasting(text, Units.METRIC)
    except Misread:
        return None


def _which(items: Sequence[tuple[int, editing.Node]], side: str, *, none: bool) -> str:
    said = [f"{side} {v.value}{_for(item)}" for _, item in items if (v := item.under(side)) is not None]
    if none:
        return f"no harm {side} like that is written there" + (f", only {', '.join(said)}" if said else "")
    return f"several are written there ({', '.join(said)}); say which with `lasting`, as in '14 °C lasting 4 h'"


def _for(item: editing.Node) -> str:
    node = item.under("lasting")
    return "" if node is None or node.nothing else f"{_LASTING}{node.value}"


def _both_ends(text: str, side: str, value: str) -> str:
    low, _, high = (part.strip() for part in text.partition(".."))
    if side == "below":
        return f"{value}..{high}"
    bare = low if not low[-1:].isdigit() else f"{low}{_unit_of(high)}"
    return f"{bare}..{value}"


def _unit_of(text: str) -> str:
    return text[len(text.rstrip(" °%℃℉abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ")) :]


def _whole_harm(wish: Wish, rules: Rules) -> str:
    """Every harm that holds now, with the one that is wished for in its place: a list that is written replaces the species'."""
    if wish.whose[0] != "bins":
        raise RequestError("no harm is written there, and what holds differs from bin to bin; try it for one bin")
    limits, units, side = _held(wish, rules), rules.site.units, wish.key.partition(".")[2]
    asked = _asked(wish)
    of = [h for h in limits.harm if h.below == (side == "below") and (wish.lasting is None or h.lasting == asked)]
    shown = [_shown(h, wish.measure, units) for h in limits.harm if h.below == (side == "below")]
    if len(of) != 1:
        several = f"{side} there is harm at {', '.join(shown) or 'nothing'}"
        raise RequestError(f"{several}; say which with `lasting`, as in '14 °C lasting 4 h'")
    parts = [_item(h, wish.measure, units, wish.value if h is of[0] else None) for h in limits.harm]
    return f"[{', '.join(parts)}]"


def _held(wish: Wish, rules: Rules) -> Limits:
    bed = rules.bins[wish.whose[1]]
    if len(wish.whose) == 2:
        return bed.limits[wish.measure]
    return next(zone for zone in bed.zones if zone.id == wish.whose[3]).limits[wish.measure]


def _item(harm: Harm, measure: Measures, units: Units, value: str | None) -> str:
    side = "below" if harm.below else "above"
    last = f", lasting: {q.written(harm.lasting, q.SPAN, units)}" if harm.lasting else ""
    return f"{{{side}: {value or q.written(harm.bound.value, QUANTITY[measure], units)}{last}}}"


def _shown(harm: Harm, measure: Measures, units: Units) -> str:
    last = f"{_LASTING}{q.written(harm.lasting, q.SPAN, units)}" if harm.lasting else ""
    return f"{q.written(harm.bound.value, QUANTITY[measure], units)}{last}"


def held_in_words(limits: Limits, measure: Measures, key: str, *, units: Units) -> Iterator[tuple[str, str]]:
    """(value, lasting) of what holds now under a key, as the settings would have it; of harm each there is."""
    if key == "comfort":
        if limits.low is not None and limits.high is not None:
            low, high = (q.written(end.value, QUANTITY[measure], units) for end in (limits.low, limits.high))
            yield f"{low.rpartition(' ')[0]}..{high}", ""
    elif key == "deadband":
        yield q.written(limits.deadband, q.DEGREES if measure is Measures.TEMPERATURE else q.PERCENT, units), ""
    elif key in PLAIN:
        yield q.written(getattr(limits, key), q.SPAN, units), ""
    else:
        for harm in limits.harm:
            if harm.below == (key == "harm.below"):
                last = q.written(harm.lasting, q.SPAN, units) if harm.lasting else "at once"
                yield q.written(harm.bound.value, QUANTITY[measure], units), last


def bins_that_differ(before: Rules, after: Rules) -> set[str]:
    """The bins whose limits differ between two rules; those that only one of them knows, too."""
    return {
        bed
        for bed in {*before.bins, *after.bins}
        if bed not in before.bins or bed not in after.bins or _plain(before, bed) != _plain(after, bed)
    }


def _plain(rules: Rules, bed: str) -> object:
    """A bin's limits without the words of where they come from."""

    def plain(limits: Limits) -> object:
        ends = [None if b is None else b.value for b in (limits.low, limits.high)]
        harm = [(h.below, h.bound.value, h.lasting) for h in limits.harm]
        return replace(limits, low=None, high=None, harm=()), ends, harm

    one = rules.bins[bed]
    return [{m: plain(v) for m, v in climate.items()} for climate in (one.limits, *(z.limits for z in one.zones))]
