"""The papers, cut up: their code blocks in order, and what the settings in a how-to come to when they are followed."""

import re
from dataclasses import dataclass
from pathlib import Path

import yaml

from monitor.settings import load
from monitor.settings.tree import read

ROOT = Path(__file__).parents[2]
HOW_TOS = sorted((ROOT / "config" / "how-to").glob("*.md"))
PAPERS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *HOW_TOS]
_NAMES = (
    "database-token",
    "VERMISTAT_PHONE_URL",
    "VERMISTAT_MAIL_URL",
    "phone-url",
    "page-passphrase",
    "mail-url",
    "broker-password",
    "broker.pem",
)
SECRETS = dict.fromkeys(_NAMES, "json://127.0.0.1/")
"""Every secret that a how-to names, as a variable and as a file."""


@dataclass(frozen=True)
class Block:
    """One fenced block: its language, what stands behind that, and its text without the margin it is written with."""

    paper: str
    line: int
    language: str
    title: str
    text: str


def blocks(paper):
    """Every fenced block of a paper."""
    found, text = [], paper.read_text(encoding="utf-8")
    for match in re.finditer(r"^( *)```(\w*) ?([^\n]*)\n(.*?)^\1```$", text, re.MULTILINE | re.DOTALL):
        margin, language, title, inner = match.groups()
        plain = "".join(line.removeprefix(margin) for line in inner.splitlines(keepends=True))
        found.append(Block(paper.name, text.count("\n", 0, match.start()) + 1, language, title, plain))
    return found


def data_of(text, folder):
    """A piece of settings as plain data, read as the program reads it."""
    file = folder / "piece.yaml"
    file.write_text(text, encoding="utf-8")
    data, _, mistakes = read(file)
    assert mistakes == []
    return data


def added(base, piece):
    """`piece` written into `base`, as a keeper who follows a how-to would."""
    if not (isinstance(base, dict) and isinstance(piece, dict)) or piece.keys() <= {"from_file", "from_env"}:
        return piece
    return base | {key: added(base[key], inner) if key in base else inner for key, inner in piece.items()}


def accepted(folder, files):
    """The settings of some files (by name, as text or data), with every secret at hand. Raises SettingsError."""
    folder.mkdir(exist_ok=True)
    for name, address in SECRETS.items():
        (folder / name).write_text(address)
    for name, given in files.items():
        text = given if isinstance(given, str) else yaml.safe_dump(given, allow_unicode=True, sort_keys=False)
        (folder / name).write_text(text, encoding="utf-8")
    return load([folder], environ=SECRETS)
