# shellcheck shell=sh
# shellcheck disable=SC2154 # `checkout` is set by whoever sources this
# Sourced by deploy/demo.sh, deploy/install.sh and tests/run.sh, with `checkout` set to the folder of this project.
#
#   environment NAME …    makes .venv in the checkout hold what deploy/requirements/NAME.txt lists, exactly
#                         (every file is compared with its hash), and `vermistat` itself. Installs only what
#                         changed since the last time. Sets `venv`. PYTHON=/path/to/python chooses the Python.
#
# Nothing is written outside the checkout.

say() {
    printf '%s\n' "$*" >&2
}

die() {
    say "$*"
    exit 1
}

new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

find_python() {
    for python in ${PYTHON:+"$PYTHON"} python3 python3.14 python3.13 python3.12 python3.11 python; do
        if new_enough "$python"; then
            return
        fi
    done
    die "Vermistat needs Python 3.11 or newer, and none was found: sudo apt-get install python3 python3-venv"
}

make_venv() {
    if new_enough "$venv/bin/python" && "$venv/bin/python" -c 'import pip' 2>/dev/null; then
        return
    fi
    find_python
    "$python" -c 'import ensurepip, venv' 2>/dev/null ||
        die "Python cannot make virtual environments here: sudo apt-get install python3-venv"
    [ -w "$checkout" ] || die "$checkout cannot be written to by $(id -un): run this as its owner"
    say "Making $venv …"
    "$python" -m venv --clear "$venv"
}

# What a list was installed from: its bytes, and the Python it was installed into.
mark_of() {
    cksum <"$1"
    "$venv/bin/python" -c 'import sys; print(sys.version)'
}

install_list() {
    list=$checkout/deploy/requirements/$1.txt
    mark=$venv/.installed-$1
    [ -f "$list" ] || die "There is no $list"
    if [ -f "$mark" ] && [ "$(cat "$mark")" = "$(mark_of "$list")" ]; then
        return
    fi
    [ -w "$venv" ] || die "$venv belongs to somebody else than $(id -un): run this as its owner, or remove it"
    # Runtime and demo compile nothing. One reference library of the tests and the data packages come as plain
    # Python archives.
    case $1 in
        test) how="--only-binary :all: --no-binary psychrolib --use-pep517" ;;
        data) how="--use-pep517" ;;
        *) how="--only-binary :all:" ;;
    esac
    say "Installing what deploy/requirements/$1.txt lists …"
    # A list is whole, so nothing beside it is looked for: an older pip would take the newest release for
    # `name[extra]`, which is not the pinned one.
    # shellcheck disable=SC2086 # the words of `how` are meant to be several
    PIP_USER=0 "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --require-hashes --no-deps $how \
        -r "$list"
    mark_of "$list" >"$mark"
}

# The checkout itself: a path file and a command. No build, no network; a folder that moved is put right.
link_checkout() {
    "$venv/bin/python" - "$checkout" "$venv" <<'PYTHON'
import os, sys, sysconfig
from pathlib import Path

checkout, venv = sys.argv[1:]
interpreter = f"{venv}/bin/python".translate({ord(c): "\\" + c for c in '\\"$`'})
command = f"""#!/bin/sh
'''exec' "{interpreter}" "$0" "$@"
' '''
import sys
from monitor.cli import main
sys.exit(main())
"""
wanted = {Path(sysconfig.get_path("purelib"), "vermistat.pth"): checkout + "\n", Path(venv, "bin/vermistat"): command}
for path, text in wanted.items():
    if not path.exists() or path.read_text() != text:
        new = path.with_name(path.name + ".new")
        new.write_text(text)
        new.chmod(0o755)
        os.replace(new, path)
PYTHON
}

environment() {
    venv=$checkout/.venv
    make_venv
    for name in "$@"; do
        install_list "$name"
    done
    link_checkout
}
