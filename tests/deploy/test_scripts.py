"""The shell commands as a stranger runs them: from anywhere, in a folder with spaces, and told what is missing.

Nothing is fetched here: the lists are empty or name a package made on the spot. The real lists are what this
very run was installed from.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CLI = """
import os, sys
def main():
    print("vermistat", *sys.argv[1:], "in", os.getcwd())
    return 3
"""


@pytest.fixture
def checkout(tmp_path):
    """A stand-in for a clone: our scripts, an empty list, and a `vermistat` that says how it was called."""
    place = tmp_path / "my worm things" / 'the "$HOME" one'
    (place / "deploy" / "requirements").mkdir(parents=True)
    for name in ("demo.sh", "environment.sh"):
        shutil.copy(ROOT / "deploy" / name, place / "deploy")
    (place / "deploy" / "requirements" / "demo.txt").write_text("")
    (place / "monitor").mkdir()
    (place / "monitor" / "__init__.py").write_text("")
    (place / "monitor" / "cli.py").write_text(CLI)
    return place


def demo(checkout, *args, cwd, path=None, **env):
    base = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHON", "VIRTUAL_ENV")}
    return subprocess.run(
        ["/bin/sh", checkout / "deploy" / "demo.sh", *args],
        cwd=cwd, capture_output=True, text=True, timeout=240, check=False,
        env=base | {"PATH": f"{path}:/usr/bin:/bin" if path else base["PATH"]} | env,
    )  # fmt: skip


def fake_python(folder, script):
    """Every Python on the path is this one."""
    folder.mkdir()
    for name in ("python", "python3", *(f"python3.{n}" for n in range(11, 15))):
        (folder / name).write_text(f"#!/bin/sh\n{script}\n")
        (folder / name).chmod(0o755)
    return folder


def test_from_any_folder_it_makes_its_environment_once_and_hands_its_arguments_over(checkout, tmp_path):
    (tmp_path / "monitor").mkdir()  # a stranger's folder of the same name, in the folder we are called from
    (tmp_path / "monitor" / "__init__.py").write_text("raise SystemExit('the wrong monitor')")
    first = demo(checkout, "--speed", "two words", cwd=tmp_path, PYTHON=sys.executable)
    said = f"vermistat demo --speed two words in {tmp_path}\n"
    assert (3, said) == (first.returncode, first.stdout), first.stderr
    assert "Making" in first.stderr

    again = demo(checkout, "--speed", "two words", cwd=tmp_path)
    assert (3, said, "") == (again.returncode, again.stdout, again.stderr)

    list_ = checkout / "deploy" / "requirements" / "demo.txt"
    list_.write_text("# changed\n")
    changed = demo(checkout, cwd=tmp_path)
    assert 3 == changed.returncode, changed.stderr
    assert "Installing" in changed.stderr
    assert "Making" not in changed.stderr

    moved = checkout.rename(tmp_path / "moved elsewhere")
    after = demo(moved, cwd=tmp_path)
    assert (3, f"vermistat demo in {tmp_path}\n") == (after.returncode, after.stdout), after.stderr


@pytest.fixture
def pebble(tmp_path):
    """A folder with one package in it, and that package's hash."""
    folder = tmp_path / "packages"
    folder.mkdir()
    wheel = folder / "pebble-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as made:
        made.writestr("pebble.py", "")
        made.writestr("pebble-1.0.dist-info/METADATA", "Metadata-Version: 2.1\nName: pebble\nVersion: 1.0\n")
        made.writestr(
            "pebble-1.0.dist-info/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        )
        made.writestr("pebble-1.0.dist-info/RECORD", "")
    return folder, hashlib.sha256(wheel.read_bytes()).hexdigest()


def test_a_package_is_installed_only_when_its_bytes_are_the_listed_ones(checkout, tmp_path, pebble):
    folder, digest = pebble
    list_ = checkout / "deploy" / "requirements" / "demo.txt"
    offline = {
        "PYTHON": sys.executable,
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_NO_INDEX": "1",
        "PIP_FIND_LINKS": str(folder),
    }
    list_.write_text(f"pebble==1.0 --hash=sha256:{'0' * 64}\n")
    refused = demo(checkout, cwd=tmp_path, **offline)
    assert refused.returncode not in (0, 3)
    assert "" == refused.stdout
    assert "HASH" in refused.stderr.upper()
    assert not (checkout / ".venv" / ".installed-demo").exists()

    list_.write_text(f"pebble==1.0 --hash=sha256:{digest}\n")
    taken = demo(checkout, cwd=tmp_path, **offline)
    assert 3 == taken.returncode, taken.stderr
    assert list((checkout / ".venv").glob("lib/python*/site-packages/pebble.py"))


def test_without_a_python_that_is_new_enough_it_says_which_one_it_needs(checkout, tmp_path):
    done = demo(checkout, cwd=tmp_path, path=fake_python(tmp_path / "old", "exit 1"))
    assert (1, "") == (done.returncode, done.stdout)
    assert "Vermistat needs Python 3.11 or newer" in done.stderr
    assert not (checkout / ".venv").exists()


def test_without_the_venv_module_it_says_what_to_install(checkout, tmp_path):
    script = f'case "$*" in *ensurepip*) exit 1 ;; *) exec "{sys.executable}" "$@" ;; esac'
    done = demo(checkout, cwd=tmp_path, path=fake_python(tmp_path / "bare", script))
    assert (1, "") == (done.returncode, done.stdout)
    assert "sudo apt-get install python3-venv" in done.stderr
    assert not (checkout / ".venv").exists()


SCRIPTS = sorted(
    str(p.relative_to(ROOT))
    for p in (
        *ROOT.glob("deploy/*.sh"),
        *ROOT.glob("tests/*.sh"),
        *ROOT.glob("tests/bench/*.sh"),
        ROOT / ".ci" / "run",
    )
)


def test_there_are_scripts():
    assert {".ci/run", "deploy/environment.sh", "deploy/install.sh", "tests/run.sh"} <= set(SCRIPTS)


@pytest.mark.parametrize("script", [x for x in SCRIPTS if x != ".ci/run"])
def test_the_scripts_are_plain_posix_shell(script):
    # Debian's sh is dash, which knows nothing but POSIX
    done = subprocess.run(["/bin/sh", "-n", ROOT / script], capture_output=True, text=True, check=False)
    assert (0, "") == (done.returncode, done.stderr)


def shellcheck(script):
    return subprocess.run(
        ["shellcheck", "-x", script], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False
    )


@pytest.mark.parametrize("script", SCRIPTS)
def test_shellcheck_has_nothing_to_say(script):
    done = shellcheck(script)
    assert (0, "") == (done.returncode, done.stdout), done.stdout


def test_shellcheck_does_notice_a_slip(tmp_path):
    slip = tmp_path / "slip.sh"
    slip.write_text("#!/bin/sh\ncd $1\nrm -r $2/*\n")
    assert 1 == shellcheck(slip).returncode


def test_every_script_that_is_called_by_name_may_be_run():
    for script in (".ci/run", "deploy/demo.sh", "tests/run.sh"):
        assert os.access(ROOT / script, os.X_OK), script
