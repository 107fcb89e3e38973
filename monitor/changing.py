"""Settings that change while we run: looked at before each round, taken up as a whole between two rounds, or not.

What follows from a version (its number, what it changes, ids that go on under another) is one transaction of the
store. Everything else is made anew from the version in force, so that a death at any moment leaves a daemon that
begins with the one or with the other, and a change while running ends where a restart would.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Protocol

from monitor.accepting import at_whose_wish
from monitor.addresses import Secret
from monitor.amendments import amendments, came_and_went, outline
from monitor.errors import StoreError
from monitor.notify.redact import fragments, starred
from monitor.readings import Millis
from monitor.rules import Probe
from monitor.settings import Settings
from monitor.settings.restart import RESTART, needs_restart
from monitor.settings.watching import Refused, Watch
from monitor.store.promises import Request, Requests, TakenUp, Taking, Versions
from monitor.words import joined

log = logging.getLogger(__name__)

THE_FILE = "the file"
"""Who changed the settings, when nothing else is known."""
LONG_ENOUGH = 8
"""Shorter pieces of a secret are words that stand in a file for other reasons."""


def taking_of(settings: Settings, versions: Versions, *, at: Millis, asked: Sequence[Request] = ()) -> Taking:
    """What taking up these settings changes of those in force; at whose wish, when one of the requests says so."""
    who, why = at_whose_wish(asked, settings.digest) or (THE_FILE, "")
    before, after = versions.in_force(), outline(settings.rules, settings.was)
    changed = amendments(before.outline, after, settings.written) if before else ()
    came, went = came_and_went(before.outline, after) if before else ((), ())
    return Taking(
        at=at,
        who=who,
        digest=settings.digest,
        rules=settings.rules.version,
        files=without_secrets(settings.texts, secrets_of(settings)),
        outline=after,
        amendments=changed,
        came=came,
        went=went,
        names=settings.was.without(before.outline.was) if before else settings.was,
        why=why,
    )


def secrets_of(settings: Settings) -> list[Secret]:
    """Everything secret that these settings brought with them."""
    secrets = [channel.send_to for channel in settings.channels.values()]
    token = settings.database.token if settings.database else None
    passphrase = settings.page.passphrase if settings.page else None
    return [*secrets, *(secret for secret in (settings.broker.password, token, passphrase) if secret)]


def without_secrets(texts: Iterable[tuple[str, str]], secrets: Sequence[Secret]) -> tuple[tuple[str, str], ...]:
    """The files as they are kept. No secret has a place in them, but one may stand in a comment."""
    parts = {part for secret in secrets for part in fragments(secret) if len(part) >= LONG_ENOUGH}
    return tuple((name, starred(text, parts) if parts else text) for name, text in texts)


class Kept(Versions, Requests, Protocol):
    """What settings are taken up into, and who asked for what."""


class Changing:
    """Holds which settings are in force, and says why newer ones are not.

    `change(settings, take_up)` runs `take_up` while nothing is read by either settings, or raises StoreError;
    `use(settings, taken)` makes everything else go by them. `begun` is whether the store took those at the start.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        store: Kept,
        now: Callable[[], Millis],
        change: Callable[[Settings, Callable[[], None]], None],
        use: Callable[[Settings, TakenUp], None],
        begun: bool,
        watch: Watch | None = None,
    ) -> None:
        self.settings = settings
        self._store, self._now, self._change, self._use, self._watch = store, now, change, use, watch
        self._wanted: Settings | None = None if begun else settings
        self._refused: str | None = None

    @property
    def refused(self) -> str | None:
        """Why the settings of the files are not those in force; None when they are, or will be in a moment."""
        return self._refused

    @property
    def probes(self) -> Mapping[str, Probe]:
        """Every probe of the settings in force, and every plug that speaks."""
        return self.settings.rules.sources()

    def look(self) -> None:
        """Before a round: whatever the files say now is in force after this, or it is said why not. Never raises."""
        try:
            self._look()
        except Exception as fault:
            log.exception("changed settings could not be taken up")
            self._refuse(f"they could not be taken up ({type(fault).__name__}), which is a fault of this program")
            self._wanted = None

    def _look(self) -> None:
        found = self._watch.look() if self._watch is not None else None
        if isinstance(found, Refused):
            self._wanted = None
            self._refuse(_first_of(found.mistakes), found.mistakes)
        elif found is not None:
            fixed = needs_restart(self.settings, found)
            if fixed:
                self._wanted = None
                keys = joined([f"`{key}`" for key in fixed])
                self._refuse(f"{keys} cannot change while Vermistat runs. {RESTART}")
            else:
                self._wanted = found
        if self._wanted is not None:
            self._take_up(self._wanted)

    def _take_up(self, wanted: Settings) -> None:
        taken: list[TakenUp] = []

        def put() -> None:
            asked = self._store.asked()
            taken.append(self._store.take_up(taking_of(wanted, self._store, at=self._now(), asked=asked)))

        try:
            self._change(wanted, put)
            self._use(wanted, taken[0])
        except StoreError as error:
            log.warning("changed settings wait for the store: %s", error)
            return
        self._say(wanted, taken[0])
        self.settings, self._wanted, self._refused = wanted, None, None

    def _say(self, wanted: Settings, taken: TakenUp) -> None:
        if (self.settings.digest, self.settings.rules.version) == (wanted.digest, wanted.rules.version):
            return
        limits = f"{len(taken.amendments)} limits changed" if taken.amendments else "no limit changed"
        log.warning("settings %d are in force: %s", taken.number, limits)

    def _refuse(self, why: str, mistakes: Sequence[str] = ()) -> None:
        text = f"the changed settings are not in force, the earlier ones stay: {why}"
        if text != self._refused:
            log.error("%s", "\n".join([text, *mistakes[1:]]))
        self._refused = text


def _first_of(mistakes: Sequence[str]) -> str:
    more = f" (and {len(mistakes) - 1} more)" if len(mistakes) > 1 else ""
    return f"{mistakes[0] if mistakes else ''}{more}"


def begin(settings: Settings, store: Versions, *, at: Millis) -> TakenUp | None:
    """Put the settings in force that the daemon starts with; None when the store does not take them now, which its
    first round will tell.
    """
    try:
        taken = store.take_up(taking_of(settings, store, at=at))
    except StoreError as error:
        log.error("the settings could not be recorded: %s", error)
        return None
    log.info("settings %d are in force", taken.number)
    return taken
