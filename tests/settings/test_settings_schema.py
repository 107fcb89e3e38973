"""The published JSON Schema is the file's shape: equal to it, and refusing nothing that is accepted."""

import json
import re

import pytest
import yaml
from hypothesis import given

from monitor.settings.published import schema
from monitor.settings.schema import FileShape
from parts.schema import COMMAND, PUBLISHED, ROOT, published
from settings.test_settings_random import many, valid

SCHEMA = json.loads(PUBLISHED.read_text(encoding="utf-8"))


def test_it_is_what_the_settings_are_now():
    assert published() == PUBLISHED.read_text(encoding="utf-8"), f"the file has changed its shape: {COMMAND}"


def test_every_key_says_what_it_is():
    unsaid = [
        f"{name}.{key}"
        for name, shape in {"FileShape": SCHEMA, **SCHEMA["$defs"]}.items()
        for key, found in shape["properties"].items()
        if "description" not in found
    ]
    assert [] == unsaid


def test_it_has_every_key_and_no_other():
    assert set(FileShape.model_fields) == set(SCHEMA["properties"])
    assert not SCHEMA["additionalProperties"]


class _Core(yaml.SafeLoader):
    """Scalars as an editor reads them: YAML 1.2, core schema (10.3.2)."""


_Core.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"~|null|Null|NULL|", "~nN\0"),
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    _Core.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(f"^(?:{_pattern})$"), list(_first))


def as_an_editor(text):
    return yaml.load(text, Loader=_Core)


FILES = [
    ROOT / "config" / "vermistat.yaml",
    ROOT / "config" / "one-bin.yaml",
    ROOT / "monitor" / "simulator" / "demo.yaml",
    ROOT / "fixtures" / "whole" / "settings.yaml",
]


def complaints(data, part=SCHEMA, at="$"):
    """What a file breaks, by the few words of JSON Schema that are used here."""
    if "$ref" in part:
        yield from complaints(data, SCHEMA["$defs"][part["$ref"].rpartition("/")[2]], at)
    for each in part.get("allOf", ()):
        yield from complaints(data, each, at)
    if "anyOf" in part and all(list(complaints(data, each, at)) for each in part["anyOf"]):
        yield f"{at}: none of several"
    if "enum" in part and not any(
        data == one and isinstance(data, bool) == isinstance(one, bool) for one in part["enum"]
    ):
        yield f"{at}: not among {part['enum']}"
    if "const" in part and data != part["const"]:
        yield f"{at}: not {part['const']}"
    if "type" in part and not any(_is(data, kind) for kind in _listed(part["type"])):
        yield f"{at}: not {part['type']}"
    elif isinstance(data, int | float) and data < part.get("minimum", data):
        yield f"{at}: below {part['minimum']}"
    elif isinstance(data, int | float) and data > part.get("maximum", data):
        yield f"{at}: above {part['maximum']}"
    elif isinstance(data, str) and not re.search(part.get("pattern", ""), data):
        yield f"{at}: {data!r} is not {part['pattern']}"
    elif isinstance(data, dict):
        yield from _of_object(data, part, at)
    elif isinstance(data, list):
        for index, one in enumerate(data):
            yield from complaints(one, part.get("items", {}), f"{at}[{index}]")


def _of_object(data, part, at):
    yield from (f"{at}: {key} is missing" for key in part.get("required", ()) if key not in data)
    for key, value in data.items():
        inner = part.get("properties", {}).get(key, part.get("additionalProperties", {}))
        if inner is False:
            yield f"{at}: {key} is not known"
        elif not re.search(part.get("propertyNames", {}).get("pattern", ""), str(key)):
            yield f"{at}: {key} is no id"
        else:
            yield from complaints(value, inner, f"{at}.{key}")


def _listed(kinds):
    return [kinds] if isinstance(kinds, str) else kinds


def _is(data, kind):
    kinds = {"object": dict, "integer": int, "array": list, "string": str, "boolean": bool, "number": (int, float)}
    return isinstance(data, kinds[kind]) and (kind == "boolean") == isinstance(data, bool)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_what_is_shipped_keeps_to_it(file):
    assert [] == list(complaints(as_an_editor(file.read_text(encoding="utf-8"))))


@many(100)
@given(data=valid())
def test_what_is_accepted_keeps_to_it(data):
    assert [] == list(complaints(as_an_editor(yaml.safe_dump(data, allow_unicode=True))))


FOUND_BY_AN_EDITOR = [
    "another-quantity", "backup-all-wrong",
    "can", "channel-key-unknown", "judge", "keys-expected", "list-expected", "measures-unknown",
    "may", "not-a-range", "not-a-time", "one-value-expected", "probe-at-the-top", "role",
    "sends-misspelt", "site-id-missing", "unknown-key", "was-no-id", "topic-with-a-wildcard", "zone-at-the-top",
]  # fmt: skip
MISTAKES = [
    name for name in FOUND_BY_AN_EDITOR if (ROOT / "fixtures" / "mistakes" / "yaml" / f"{name}.yaml").exists()
]


@pytest.mark.parametrize("name", FOUND_BY_AN_EDITOR)
def test_many_a_mistake_is_seen_while_typing(name):
    text = (ROOT / "fixtures" / "mistakes" / "yaml" / f"{name}.yaml").read_text(encoding="utf-8")
    assert list(complaints(as_an_editor(text)))


def test_most_of_those_are_there():
    assert len(MISTAKES) >= 15


def test_without_the_papers_it_is_the_same_but_for_words():
    def bare(part):
        if isinstance(part, dict):
            inner = {k: bare(v) for k, v in part.items() if k != "description"}
            return bare(inner["allOf"][0]) if set(inner) == {"allOf"} else inner
        return [bare(one) for one in part] if isinstance(part, list) else part

    assert bare(schema()) == bare(SCHEMA)
