"""The schema as it is published, with what config/how-to/settings.md says of each key. Called as a script it prints it."""

import json
import re
from pathlib import Path

from monitor.settings.published import schema
from monitor.settings.schema import FileShape
from monitor.settings.shape import _inner, _is_model

ROOT = Path(__file__).parents[2]
PUBLISHED = ROOT / "config" / "vermistat.schema.json"
COMMAND = "PYTHONPATH=.:tests .venv/bin/python tests/parts/schema.py > config/vermistat.schema.json"


def shapes(kind=FileShape, path=()):
    """Each shape and the path where it comes first, with ID for an id."""
    if _is_model(kind):
        yield kind.__name__, ".".join(path)
        for name in kind.model_fields:
            yield from shapes(_inner(kind, name), (*path, name))
    elif getattr(kind, "__origin__", None) is dict:
        yield from shapes(_inner(kind, "x"), (*path, "ID"))
    elif getattr(kind, "__origin__", None) is list:
        yield from shapes(_inner(kind, 0), path)


def about():
    """(shape, key) → what the papers say of it, without links and marks."""
    text = (ROOT / "config" / "how-to" / "settings.md").read_text(encoding="utf-8")
    told, seen = {}, set()
    for shape, path in shapes():
        if shape in seen:
            continue
        seen.add(shape)
        title = re.escape("## The whole file" if not path else f"## `{path}`")
        found = re.search(rf"^{title}[^\n]*\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
        rows = re.findall(r"^\| `(\w+)` \| (.+?) \| (.+) \|$", found[1], re.MULTILINE) if found else []
        for key, what, without in rows:
            plain = re.sub(r"\[([^]]+)\]\([^)]+\)", r"\1", f"{what}. Without it: {without}.").replace("`", "")
            told[shape, key] = plain
    return told


def published():
    """The text of the file."""
    return json.dumps(schema(about()), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    print(published(), end="")
