"""Letters of our own drawing for pictures that have no font: nine rows of dots a letter, each as wide as it needs.

The seven upper rows stand on the line, the two lower hang below it. What is not drawn here is shown without its accent, or as
an empty box.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache

from monitor.charts.png import Canvas

ROWS, STAND, SPACE = 9, 7, 3
"""Rows of a letter, rows that stand on the line, and the dots of a blank."""

_DRAWN = """
0 .##. #..# #..# #..# #..# #..# .##.
1 .#. ##. .#. .#. .#. .#. ###
2 .##. #..# ...# ..#. .#.. #... ####
3 ###. ...# ...# .##. ...# ...# ###.
4 ..#. .##. #.#. #.#. #### ..#. ..#.
5 #### #... ###. ...# ...# #..# .##.
6 .##. #... #... ###. #..# #..# .##.
7 #### ...# ..#. ..#. .#.. .#.. .#..
8 .##. #..# #..# .##. #..# #..# .##.
9 .##. #..# #..# .### ...# ...# .##.
A .##. #..# #..# #### #..# #..# #..#
B ###. #..# #..# ###. #..# #..# ###.
C .##. #..# #... #... #... #..# .##.
D ###. #..# #..# #..# #..# #..# ###.
E #### #... #... ###. #... #... ####
F #### #... #... ###. #... #... #...
G .##. #..# #... #.## #..# #..# .###
H #..# #..# #..# #### #..# #..# #..#
I ### .#. .#. .#. .#. .#. ###
J ..## ...# ...# ...# ...# #..# .##.
K #..# #..# #.#. ##.. #.#. #..# #..#
L #... #... #... #... #... #... ####
M #...# ##.## #.#.# #.#.# #...# #...# #...#
N #..# ##.# ##.# #.## #.## #..# #..#
O .##. #..# #..# #..# #..# #..# .##.
P ###. #..# #..# ###. #... #... #...
Q .##. #..# #..# #..# #..# #.## .###
R ###. #..# #..# ###. #.#. #..# #..#
S .### #... #... .##. ...# ...# ###.
T ##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..
U #..# #..# #..# #..# #..# #..# .##.
V #...# #...# #...# .#.#. .#.#. ..#.. ..#..
W #...# #...# #...# #.#.# #.#.# ##.## #...#
X #...# #...# .#.#. ..#.. .#.#. #...# #...#
Y #...# #...# .#.#. ..#.. ..#.. ..#.. ..#..
Z #### ...# ..#. .##. .#.. #... ####
a .... .... .##. ...# .### #..# .###
b #... #... ###. #..# #..# #..# ###.
c ... ... .## #.. #.. #.. .##
d ...# ...# .### #..# #..# #..# .###
e .... .... .##. #..# #### #... .###
f .## #.. ### #.. #.. #.. #..
g .... .... .### #..# #..# #..# .### ...# .##.
h #... #... ###. #..# #..# #..# #..#
i # . # # # # #
j .# .. .# .# .# .# .# .# #.
k #... #... #..# #.#. ##.. #.#. #..#
l #. #. #. #. #. #. .#
m ..... ..... ####. #.#.# #.#.# #.#.# #.#.#
n .... .... ###. #..# #..# #..# #..#
o .... .... .##. #..# #..# #..# .##.
p .... .... ###. #..# #..# #..# ###. #... #...
q .... .... .### #..# #..# #..# .### ...# ...#
r ... ... #.# ##. #.. #.. #..
s ... ... .## #.. .#. ..# ##.
t #.. #.. ##. #.. #.. #.. .##
u .... .... #..# #..# #..# #..# .###
v ..... ..... #...# #...# .#.#. .#.#. ..#..
w ..... ..... #...# #.#.# #.#.# #.#.# .#.#.
x .... .... #..# #..# .##. #..# #..#
y .... .... #..# #..# #..# #..# .### ...# .##.
z .... .... #### ...# .##. #... ####
! # # # # # . #
" #.# #.#
# .#.#. .#.#. ##### .#.#. ##### .#.#. .#.#.
$ ..#.. .#### #.#.. .###. ..#.# ####. ..#..
% ##..# ##..# ...#. ..#.. .#... #..## #..##
& .##.. #..#. #.#.. .#... #.#.# #..#. .##.#
' # #
( .# #. #. #. #. #. .#
) #. .# .# .# .# .# #.
* ... #.# .#. ### .#. #.#
+ ..... ..... ..#.. ..#.. ##### ..#.. ..#..
, .. .. .. .. .. .# .# #.
- ... ... ... ... ###
. . . . . . . #
/ ..# ..# .#. .#. .#. #.. #..
: . . # . . # .
; .. .. .# .. .. .# .# #.
< ..# .#. #.. #.. .#. ..#
= .... .... #### .... ####
> #.. .#. ..# ..# .#. #..
? .##. #..# ...# ..#. .#.. .... .#..
@ .###. #...# #.### #.#.# #.### #.... .###.
[ ## #. #. #. #. #. ##
\\ #.. #.. .#. .#. .#. ..# ..#
] ## .# .# .# .# .# ##
^ .#. #.#
_ .... .... .... .... .... .... .... ####
` #. .#
{ .## .#. .#. #.. .#. .#. .##
| # # # # # # # #
} ##. .#. .#. ..# .#. .#. ##.
~ ..... ..... .#..# #.##.
° ### #.# ###
\N{MINUS SIGN} .... .... .... .... ####
\N{EN DASH} .... .... .... .... ####
\N{EM DASH} ..... ..... ..... ..... #####
· . . . . #
… ..... ..... ..... ..... ..... ..... #.#.#
× .... .... #..# .##. .##. #..#
½ #..#. #..#. #.#.. ..#.. .#.#. .#..# #..#.
¼ #..#. #..#. #.#.. ..#.. .#.#. #.### #...#
¾ ##.#. .#.#. ##... ..#.. .#.#. #.### #...#
’ # #
“ #.# #.#
” #.# #.#
€ .### #... ###. #... ###. #... .###
"""
_BOX = ("####", "#..#", "#..#", "#..#", "#..#", "#..#", "####")
_APART = {
    "ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L", "đ": "d", "ı": "i",
    "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{LEFT SINGLE QUOTATION MARK}": "'",
    "\N{NON-BREAKING HYPHEN}": "-",
}  # fmt: skip
"""What has no accent to leave out."""


@cache
def _letters() -> dict[str, tuple[str, ...]]:
    rows = (line.split(" ") for line in _DRAWN.strip("\n").split("\n"))
    return {row[0]: tuple(row[1:]) for row in rows}


def _plain(text: str) -> Iterator[str]:
    for one in text:
        known = one if one in _letters() or one == " " else _APART.get(one)
        bare = [c for c in unicodedata.normalize("NFKD", one) if not unicodedata.combining(c)]
        yield from known or bare or " "


def _glyph(one: str) -> tuple[str, ...]:
    return _letters().get(one, _BOX)


def wide(text: str, scale: int = 1) -> int:
    """How many dots wide a text is."""
    widths = [SPACE if one == " " else len(_glyph(one)[0]) for one in _plain(text)]
    return scale * (sum(widths) + max(0, len(widths) - 1))


def write(canvas: Canvas, place: tuple[int, int], text: str, *, colour: int, scale: int = 1) -> None:
    """Writes a text with its upper left corner at `place`; each dot of a letter is `scale` dots wide and high."""
    left, top = place
    for one in _plain(text):
        if one == " ":
            left += scale * (SPACE + 1)
            continue
        glyph = _glyph(one)
        for y, row in enumerate(glyph):
            for x, dot in enumerate(row):
                if dot == "#":
                    at = left + x * scale, top + y * scale
                    canvas.box(at[0], at[1], at[0] + scale, at[1] + scale, colour=colour)
        left += scale * (len(glyph[0]) + 1)
