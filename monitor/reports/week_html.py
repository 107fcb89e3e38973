"""The week as one HTML document, for mail programs and for a file: no script, no style sheet, nothing loaded from elsewhere.

Mail programs leave out what they do not know, so all of it is headings, paragraphs, lists and one picture a bin; without
pictures, and read aloud, the same sentences stand there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from html import escape

from monitor.reports.saying import Saying
from monitor.reports.week_shapes import WeekBinShape, WeekShape
from monitor.reports.week_text import week_title, zone_line

_COMMAND = re.compile(r"`([^`]+)`")
_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|%|h|min|L|gal|kg|lb|kWh|W)(?!\w))")

BODY = (
    "margin:0;padding:16px;background:#faf6ec;color:#24201a;font-family:Georgia,'DejaVu Serif',serif;"
    "font-size:17px;line-height:1.45"
)
SHEET = "max-width:600px;margin:0 auto"
RULE = "margin:24px 0 6px;padding-top:12px;border-top:1px solid #b9ad96;font-size:20px;line-height:1.3"
SOFT = "color:#5b5346;font-size:15px"
PICTURE = "display:block;width:100%;max-width:540px;height:auto;border:0"


def week_html(facts: WeekShape, saying: Saying, *, pictures: Mapping[str, str], notes: Iterable[str] = ()) -> str:
    """`pictures` says by bin where its picture is (`cid:…`, `data:…`); a bin without one has its sentences alone. `notes`
    stand at the end.
    """
    title = escape(week_title(facts))
    return "\n".join(
        [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title></head>",
            f'<body style="{BODY}"><div style="{SHEET}">',
            f'<h1 style="font-size:24px;line-height:1.2;margin:8px 0 12px">{title}</h1>',
            _paragraph(facts["sentence"]),
            *_looks(facts),
            *(part for bed in facts["bins"] for part in _bin(bed, saying, pictures)),
            *_listed("Mats", (mat["sentence"] for mat in facts["mats"])),
            *_listed("Probes and the watching itself", (f"{one['about']}." for one in facts["others"])),
            *(f'<p style="{SOFT}">{_said(note)}</p>' for note in notes),
            "</div></body></html>",
        ]
    )


def _said(text: str) -> str:
    """A number is never parted from its unit, and commands stand as such."""
    return _COMMAND.sub(r"<code>\1</code>", _UNIT.sub("\N{NO-BREAK SPACE}", escape(text)))


def _paragraph(text: str) -> str:
    return f"<p>{_said(text)}</p>"


def _looks(facts: WeekShape) -> Iterator[str]:
    looks = [f"{bed['name']}: {line}" for bed in facts["bins"] for line in bed["look_at"]]
    yield from _listed("To look at next week", looks or ["Nothing in particular."])


def _bin(bed: WeekBinShape, saying: Saying, pictures: Mapping[str, str]) -> Iterator[str]:
    yield f'<h2 style="{RULE}">{escape(bed["name"])}</h2>'
    yield _paragraph(bed["sentence"])
    if (source := pictures.get(bed["id"])) is not None:
        words = escape(f"{bed['name']} over the week; the lines below say the same in numbers.")
        yield f'<p><img src="{escape(source)}" alt="{words}" width="540" style="{PICTURE}"></p>'
    if bed["zones"]:
        yield f'<ul style="{SOFT}">{"".join(_item(zone_line(zone, saying)) for zone in bed["zones"])}</ul>'


def _listed(title: str, lines: Iterable[str]) -> Iterator[str]:
    items = [_item(line) for line in lines]
    if items:
        yield f'<h2 style="{RULE}">{title}</h2>'
        yield f"<ul>{''.join(items)}</ul>"


def _item(line: str) -> str:
    return f"<li>{_said(line)}</li>"
