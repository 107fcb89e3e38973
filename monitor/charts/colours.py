"""Our colours, and how far apart they are by the formula of WCAG 2.2: no picture and no page takes one that was not computed.

Relative luminance and contrast ratio as WCAG 2.2 defines them (W3C Recommendation 5 October 2023, Glossary) [memory]; AA asks
4.5:1 of text (1.4.3) and 3:1 of what a picture needs to be understood (1.4.11).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from monitor.charts.shapes import DASHES

Colour = tuple[int, int, int]
TEXT, PARTS = 4.5, 3.0
"""What level AA asks of text, and of the parts of a picture."""

NIGHT, SPREAD, FAN = 0.07, 0.24, 0.18
"""How thickly the night, the spread of a line and what is expected of it are laid over what is below (our choice)."""


@dataclass(frozen=True, slots=True)
class Inks:
    """Every colour of a picture in one light. `lines` are by style."""

    paper: Colour
    ink: Colour
    soft: Colour
    grid: Colour
    night: Colour
    comfort: Colour
    comfort_edge: Colour
    harm: Colour
    harm_edge: Colour
    lines: tuple[Colour, ...]

    @property
    def grounds(self) -> tuple[Colour, ...]:
        """All that a line may run over: paper, comfort and harm, by day and by night."""
        days = (self.paper, self.comfort, self.harm)
        return days + tuple(mixed(day, self.night, NIGHT) for day in days)


def hexed(text: str) -> Colour:
    """The colour of "#rrggbb"."""
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def written(colour: Colour) -> str:
    """A colour as "#rrggbb"."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


LIGHT = Inks(
    paper=hexed("#fffdf6"),
    ink=hexed("#24201a"),
    soft=hexed("#5b5346"),
    grid=hexed("#ddd5c3"),
    night=hexed("#24305a"),
    comfort=hexed("#e2eed6"),
    comfort_edge=hexed("#426d34"),
    harm=hexed("#f8ddd3"),
    harm_edge=hexed("#a3341c"),
    lines=tuple(map(hexed, ("#125a80", "#a04708", "#6a2c86", "#3a6318", "#8a1f4d", "#4a4238"))),
)
DARK = Inks(
    paper=hexed("#24211b"),
    ink=hexed("#efe8d8"),
    soft=hexed("#bdb29c"),
    grid=hexed("#474135"),
    night=hexed("#8fa3e8"),
    comfort=hexed("#2c3a25"),
    comfort_edge=hexed("#8fbf7c"),
    harm=hexed("#472a22"),
    harm_edge=hexed("#f08e73"),
    lines=tuple(map(hexed, ("#8ccdf0", "#f2b27a", "#d9aef0", "#b4dc8e", "#f5a5c6", "#d6cdbb"))),
)


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 black to 1 white."""
    parts = [c / 255 for c in colour]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Colour, other: Colour) -> float:
    """The contrast ratio of two colours, 1 to 21."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def mixed(below: Colour, above: Colour, share: float) -> Colour:
    """What is seen where `above` lies over `below` with this opacity."""
    red, green, blue = (round(b + (a - b) * share) for b, a in zip(below, above, strict=True))
    return red, green, blue


# ── as a style sheet ──────────────────────────────────────────────────────────────────────────────────────────


def sheet() -> str:
    """The rules for a chart in light, dark and forced colours: the page's style sheet holds them, a saved picture too."""
    dark = "".join(f"  {line}\n" for line in _inks(DARK))
    forced = "".join(f"  {line}\n" for line in _FORCED)
    return (
        "\n".join([*_inks(LIGHT), *_rules()])
        + f"\n@media (prefers-color-scheme: dark) {{\n{dark}}}\n@media (forced-colors: active) {{\n{forced}}}\n"
    )


def _inks(inks: Inks) -> Iterator[str]:
    names = {name: getattr(inks, field) for name, field in _NAMES.items()}
    names |= {f"line-{n}": colour for n, colour in enumerate(inks.lines)}
    yield ".chart { " + " ".join(f"--c-{name}: {written(colour)};" for name, colour in names.items()) + " }"


_NAMES: Mapping[str, str] = {
    "paper": "paper", "ink": "ink", "soft": "soft", "grid": "grid", "night": "night", "comfort": "comfort",
    "comfort-edge": "comfort_edge", "harm": "harm", "harm-edge": "harm_edge",
}  # fmt: skip


def _rules() -> Iterator[str]:
    yield ".chart { font-family: Georgia, 'DejaVu Serif', 'Liberation Serif', serif; }"
    yield ".chart .paper, .chart .hollow { fill: var(--c-paper); }"
    yield ".chart text { fill: var(--c-ink); font-size: 12px; }"
    yield ".chart .word { fill: var(--c-soft); }"
    yield ".chart .night { fill: var(--c-night); fill-opacity: " + f"{NIGHT}; }}"
    yield ".chart .grid { stroke: var(--c-grid); fill: none; }"
    yield ".chart .axis, .chart .tick, .chart .now { stroke: var(--c-soft); fill: none; }"
    yield ".chart .now { stroke-dasharray: 1 3; stroke-width: 2; }"
    for kind in ("comfort", "harm"):
        yield f".chart .{kind} {{ fill: var(--c-{kind}); }}"
        yield f".chart .{kind}-edge {{ stroke: var(--c-{kind}-edge); fill: none; }}"
        yield f".chart .{kind}-word {{ fill: var(--c-{kind}-edge); stroke: var(--c-{kind}); }}"
    yield ".chart .halo { stroke-width: 4px; paint-order: stroke; stroke-linejoin: round; }"
    yield ".chart .harm-edge { stroke-width: 1.5; stroke-dasharray: 1.5 2.5; }"
    yield ".chart .mean { fill: none; stroke-width: 2; stroke-linejoin: round; stroke-linecap: butt; }"
    yield ".chart .middle { fill: none; stroke-width: 2; stroke-dasharray: 3 3; }"
    yield ".chart .spread { fill-opacity: " + f"{SPREAD}; }} .chart .fan {{ fill-opacity: {FAN}; }}"
    for n, dash in enumerate(DASHES):
        yield f".chart .line-{n} {{ stroke: var(--c-line-{n}); fill: var(--c-line-{n}); }}"
        if dash:
            yield f".chart .line-{n} .mean {{ stroke-dasharray: {' '.join(f'{d:g}' for d in dash)}; }}"
    yield ".chart .spread, .chart .fan { stroke: none; } .chart .line text { stroke: none; fill: var(--c-ink); }"
    yield ".chart .mark { stroke: var(--c-ink); fill: var(--c-ink); stroke-width: 1.5; stroke-linejoin: round; }"
    yield ".chart .mark.hollow { fill: var(--c-paper); } .chart .mark.stroke { fill: none; stroke-width: 2; }"
    yield ".chart .span { fill: var(--c-soft); }"


_FORCED = (
    ".chart { --c-paper: Canvas; --c-ink: CanvasText; --c-soft: CanvasText; --c-grid: GrayText; --c-night: CanvasText;"
    " --c-comfort: Canvas; --c-comfort-edge: CanvasText; --c-harm: Canvas; --c-harm-edge: CanvasText;"
    " --c-line-0: CanvasText; --c-line-1: CanvasText; --c-line-2: CanvasText; --c-line-3: CanvasText;"
    " --c-line-4: CanvasText; --c-line-5: CanvasText; }",
)
"""The reader's own colours: lines are told apart by their dashes, harm by its dotted edge and its word."""
