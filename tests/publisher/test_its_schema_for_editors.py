"""The published JSON Schema: what is accepted passes it, and the mistakes of keys that an editor can know do not."""

import json
import re
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from papers.reading import ROOT
from parts.publisher_schema import COMMAND, PUBLISHED, published

SCHEMA = Draft202012Validator(json.loads(PUBLISHED.read_text(encoding="utf-8")))
MISTAKES = Path(__file__).parents[2] / "fixtures" / "mistakes" / "publisher"


def test_it_is_what_the_settings_are_now():
    assert published() == PUBLISHED.read_text(encoding="utf-8"), COMMAND
    Draft202012Validator.check_schema(SCHEMA.schema)


def test_whatever_is_accepted_passes():
    paper = (ROOT / "config" / "how-to" / "publisher.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```publisher\n(.*?)```", paper, re.DOTALL)
    for text in (block, (ROOT / "fixtures" / "whole" / "publisher.yaml").read_text()):
        assert [] == [
            error.message for error in SCHEMA.iter_errors(yaml.safe_load(text.replace("on: low", "'on': low")))
        ]


KNOWN_TO_AN_EDITOR = [
    "nothing-is-written", "an-unknown-section", "a-section-misspelt", "no-probes", "probes-as-a-list", "broker-as-one-word",
    "broker-without-url", "broker-password-in-the-file", "broker-password-from-two-places", "buffer-key-misspelt",
    "probe-id-with-capitals", "probe-without-a-way", "probe-way-misspelt", "probe-in-two-ways", "probe-key-misspelt",
    "probe-key-of-another-way", "hwmon-without-a-channel", "scale-without-per-kg", "iio-as-keys",
]  # fmt: skip


@pytest.mark.parametrize("name", KNOWN_TO_AN_EDITOR)
def test_what_an_editor_can_know_is_refused(name):
    assert not SCHEMA.is_valid(yaml.safe_load((MISTAKES / f"{name}.yaml").read_text()))
