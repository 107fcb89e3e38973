"""The publisher's settings as JSON Schema for editors, out of the same keys that read them. Called as a script it prints it."""

import json
from pathlib import Path

from monitor.publisher.reading import BROKER, BUFFER, COMMON, KINDS, SECRET, TOP, WEIGHING

PUBLISHED = Path(__file__).parents[2] / "config" / "publisher.schema.json"
COMMAND = "PYTHONPATH=.:tests .venv/bin/python tests/parts/publisher_schema.py > config/publisher.schema.json"
ID = "^[a-z][a-z0-9-]{0,31}$"
SCALAR = {"type": ["string", "number", "boolean"]}


def keys(known, **inside):
    """An object of these keys and no others; `inside` holds what stands below some of them."""
    found = {
        name: {**inside.get(name, {**SCALAR, "examples": [key.example]}), "description": key.says}
        for name, key in known.items()
    }
    needed = [name for name, key in known.items() if key.needed]
    return {
        "type": "object",
        "properties": found,
        "additionalProperties": False,
        **({"required": needed} if needed else {}),
    }


def probe():
    """One way of wiring, with the keys that go with it."""
    ways = []
    for kind, own in KINDS.items():
        way = keys({**own, **WEIGHING, **COMMON})
        way["required"] = [kind, *(name for name, key in own.items() if key.needed)]
        way["dependentRequired"] = {"zero": ["per_kg"], "per_kg": ["zero"]}
        ways.append(way)
    return {"oneOf": ways}


def schema():
    """The whole file."""
    probes = {
        "type": "object",
        "patternProperties": {ID: probe()},
        "additionalProperties": False,
        "minProperties": 1,
    }
    inside = {
        "id": {"type": "string", "pattern": ID},
        "site": {"type": "string", "pattern": ID},
        "broker": keys(BROKER, password={**keys(SECRET), "minProperties": 1, "maxProperties": 1}),
        "buffer": keys(BUFFER),
        "probes": probes,
    }
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Settings of `vermistat publish`"}
    return {**head, **keys(TOP, **inside)}


def published():
    """As it stands in the file."""
    return json.dumps(schema(), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    print(published(), end="")
