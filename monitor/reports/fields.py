"""How much a field of a form says; what it refuses stands beside that field, where a command has words of its own."""

from __future__ import annotations

import re

from monitor.deeds import BARE, WAYS, Way, some_of, told_amount
from monitor.errors import RequestError
from monitor.rules import Rules


def amount_of(rules: Rules, word: str, amount: str, unit: str = "") -> tuple[float | None, str]:
    """How much a field says, in a canonical unit; None when it is empty. A comma before the decimals is one of many
    keyboards. Raises RequestError for what is no amount of this deed, and where nothing says nothing.
    """
    way, much = WAYS[word], _with_point(amount).split()
    if len(much) == 1 and not much[0][-1].isalpha() and unit:
        much = [*much, unit]
    found, symbol, behind = told_amount(rules, word, way, much) if way.units else (None, "", much)
    if behind:
        raise RequestError(f"“{amount.strip()}” is no amount here: {_write(rules, way)}")
    return found, symbol


def _with_point(amount: str) -> str:
    if re.search(r"\d,\d{3}(?!\d)", amount):
        raise RequestError(
            f"“{amount.strip()}” can be read in two ways: write it with a point, or without a comma"
        )
    return re.sub(r"(?<=\d),(?=\d)", ".", amount)


def _write(rules: Rules, way: Way) -> str:
    bare = BARE[rules.site.units]
    shown = [f"{some_of(bare[symbol])} {bare[symbol]}" for symbol in way.units]
    return f"write a number, as in {' or '.join(shown)}" if shown else "it is told in words alone"
