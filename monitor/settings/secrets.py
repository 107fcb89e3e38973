"""Secrets from files and from the environment, never repeated in any sentence."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Protocol

from monitor.addresses import STARS, Secret
from monitor.rules import Units
from monitor.settings.mistakes import Misread, Paper, Path
from monitor.settings.readers import web_address

LONGEST = 64 * 1024
"""Bytes of a secret file."""

AddressOk = Callable[[str], str | None]
"""What the sender says about an address: None, or what is wrong with it."""


class Whence(Protocol):
    """Where a secret is written down: in one of the two."""

    @property
    def from_file(self) -> str | None:
        """The name of a file."""

    @property
    def from_env(self) -> str | None:
        """The name of an environment variable."""


@dataclass(frozen=True, slots=True)
class Vault:
    """Where secrets are looked for. `missing` is a list that takes what is not there, when that is no mistake."""

    environ: Mapping[str, str]
    missing: list[str] | None = None
    looked_at: list[FilePath] = field(default_factory=list)
    """Every file that was tried."""

    def fetch(self, paper: Paper, path: Path, shape: Whence) -> Secret | None:
        """The secret that stands at `path`; None when it is noted as a mistake or as missing."""
        if (shape.from_file is None) == (shape.from_env is None):
            if paper.whole(path):
                paper.wrong(path, "A secret comes from one place.", "Write either from_file or from_env.")
            return None
        key = "from_file" if shape.from_env is None else "from_env"
        if not paper.whole((*path, key)):
            return None
        try:
            text = (
                self._from_env(shape.from_env)
                if shape.from_env
                else self._from_file(paper, path, shape.from_file or "")
            )
        except Misread as misread:
            self._not_there(paper, (*path, key), misread)
            return None
        return Secret(text)

    def _not_there(self, paper: Paper, path: Path, misread: Misread) -> None:
        if self.missing is None:
            paper.wrong(path, misread.sentence, misread.hint)
            return
        spot = paper.spots.find(path)
        self.missing.append(f"{spot.file}:{spot.line}:{spot.column}: {misread.sentence} {misread.hint}")

    def _from_env(self, name: str) -> str:
        if name not in self.environ:
            raise Misread("The environment variable named here is not set.", "Set it, or write from_file instead.")
        return _line(self.environ[name], "The environment variable named here")

    def _from_file(self, paper: Paper, path: Path, name: str) -> str:
        beside = FilePath(paper.spots.find(path).file).parent / name
        handed = self.environ.get("CREDENTIALS_DIRECTORY")
        tried = [FilePath(handed) / name, beside] if handed else [beside]
        hint = "It is looked for beside this file, and in $CREDENTIALS_DIRECTORY when that is set."
        self.looked_at.extend(tried)
        for each in tried:
            try:
                with each.open("rb") as file:
                    return _line(file.read(LONGEST + 1).decode(), "The file named here")
            except FileNotFoundError:
                continue
            except UnicodeDecodeError:
                raise Misread(
                    "The file named here is not UTF-8.", "It holds the secret as text, in one line."
                ) from None
            except OSError as error:
                reason = (error.strerror or type(error).__name__).lower()
                ours = isinstance(error, PermissionError)
                hint = "Give us the right to read it." if ours else "Name a file that holds the secret as text."
                raise Misread(f"The file named here cannot be read ({reason}).", hint) from None
        raise Misread("The file named here is not there.", hint)


def _line(text: str, what: str) -> str:
    """The secret without the one line end that an editor leaves behind it."""
    text = text.removesuffix("\n").removesuffix("\r")
    if not text.strip():
        raise Misread(f"{what} is empty.", "Put the secret into it.")
    if not text.isprintable() or len(text) > LONGEST:
        raise Misread(f"{what} holds more than one line.", "It holds the secret alone, in one line.")
    return text


def web_address_ok(address: str) -> str | None:
    """What is wrong with a web address; None when nothing is."""
    try:
        web_address(address, Units.METRIC)
    except Misread:
        return "it does not begin with https://, or it holds a user or a password"
    return None


def address_checked(paper: Paper, path: Path, secret: Secret, ok: AddressOk) -> None:
    """Ask the sender whether it understands an address; note what it says, with no piece of the address."""
    complaint = ok(secret.reveal())
    if complaint is None:
        return
    after_scheme = secret.reveal().partition("://")[2]
    pieces = [p for p in re.split(r"[/:@?&=#,;\s]+", after_scheme) if len(p) >= 4]
    told = any(piece.lower() in complaint.lower() for piece in [secret.reveal(), *pieces])
    said = f"The address {STARS} cannot be used." if told else f"The address {STARS} cannot be used: {complaint}"
    paper.wrong(path, said if said.endswith(".") else f"{said}.", "Look at the secret itself.")
