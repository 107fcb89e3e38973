"""The five machines drawn from their own tables, as Mermaid state diagrams for the developers' guide."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from monitor.alarms import causes, cycle, quiet
from monitor.checks import delays

Arrow = tuple[StrEnum, str, StrEnum]
"""From, what moves it, to."""


def condition() -> str:
    """The condition machine: delays and deadband."""
    moves: list[Arrow] = [(a, str(sight), b) for (a, sight), b in delays.MOVES.items()]
    full: list[Arrow] = [(a, "delay full", b) for a, b in delays.FULL.items()]
    return drawn(delays.PhaseName, moves + full, start=delays.PhaseName.CLEAR)


def acknowledgement() -> str:
    """The alarm cycle."""
    moves: list[Arrow] = [(a, str(event), b) for (a, event), b in cycle.MOVES.items()]
    settles: list[Arrow] = [(a, "no acknowledgement needed", b) for a, b in cycle.SETTLES.items()]
    return drawn(cycle.State, moves + settles, start=cycle.State.NORMAL)


def suppression() -> str:
    """Suppression by design."""
    moves: list[Arrow] = [(a, str(event), b) for (a, event), b in causes.MOVES.items()]
    return drawn(causes.Voice, moves, start=causes.Voice.TOLD)


def shelf() -> str:
    """Shelving."""
    moves: list[Arrow] = [(a, str(event), b) for (a, event), b in quiet.SHELF_MOVES.items()]
    ends: list[Arrow] = [(a, quiet.TIME_OVER, b) for a, b in quiet.SHELF_ENDS.items()]
    return drawn(quiet.OnShelf, moves + ends, start=quiet.OnShelf.NO)


def service() -> str:
    """Out of service: work in a bin."""
    moves: list[Arrow] = [(a, str(event), b) for (a, event), b in quiet.SERVICE_MOVES.items()]
    ends: list[Arrow] = [(a, quiet.TIME_OVER, b) for a, b in quiet.SERVICE_ENDS.items()]
    return drawn(quiet.InService, moves + ends, start=quiet.InService.IN)


def drawn(states: Iterable[StrEnum], arrows: Iterable[Arrow], *, start: StrEnum) -> str:
    """A Mermaid state diagram: every state with its words, every arrow with its event, one a line."""
    lines = ["stateDiagram-v2"]
    lines += [f'    state "{state}" as {state.name}' for state in states]
    lines += [f"    [*] --> {start.name}"]
    lines += [f"    {a.name} --> {b.name}: {event}" for a, event, b in arrows]
    return "\n".join(lines) + "\n"
