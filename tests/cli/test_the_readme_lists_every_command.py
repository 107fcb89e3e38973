"""README.md's section "The command" names every command as `vermistat NAME`, every option, and nothing else."""

import re
from pathlib import Path

import pytest

from monitor.cli.calls import parser

README = Path(__file__).parents[2] / "README.md"
TITLE = "## The command"


def section(text):
    """What stands below the title, up to the next of its rank."""
    found = re.search(rf"^{TITLE}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert found, f"README.md has no section {TITLE!r}"
    return found.group(1)


def commands():
    return next(a.choices for a in parser()._actions if isinstance(a.choices, dict))


def named(text):
    return set(re.findall(r"`vermistat ([a-z]+)", text))


def options(sub):
    return {
        option for action in sub._actions for option in action.option_strings if option not in ("-h", "--help")
    }


def test_every_command_is_named_and_no_other():
    assert set(commands()) == named(section(README.read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", ["", *commands()])
def test_every_option_is_named(name):
    text = section(README.read_text(encoding="utf-8"))
    sub = commands()[name] if name else parser()
    missing = {option for option in options(sub) if not re.search(rf"{option}(?![\w-])", text)}
    assert set() == missing


def test_a_section_that_lacks_one_is_found_out():
    text = f"# A\n{TITLE}\n`vermistat now --json`, `vermistat why NUMBER`\n## Next\n`vermistat run`\n"
    assert {"now", "why"} == named(section(text))
    with pytest.raises(AssertionError):
        section("# The command\n")
