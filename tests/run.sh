#!/bin/sh
# All checks, from a fresh clone: sh tests/run.sh [arguments for pytest]
set -eu
checkout=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$checkout/deploy/environment.sh"
PATH=$PATH:/usr/sbin:/sbin
export PATH

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    else
        sudo -n "$@"
    fi
}

may_be_root() {
    [ "$(id -u)" -eq 0 ] || sudo -n true 2>/dev/null
}

# need COMMAND "PACKAGE ...": the tests talk to the real thing.
# shellcheck disable=SC2086 # several packages may stand in one word
need() {
    if command -v "$1" >/dev/null; then
        return
    fi
    if ! command -v apt-get >/dev/null || ! may_be_root; then
        die "The tests need $1, which is not here: sudo apt-get install $2"
    fi
    say "Installing Debian's $2 …"
    export DEBIAN_FRONTEND=noninteractive
    as_root apt-get install -qq -y --no-install-recommends $2 >/dev/null 2>&1 ||
        { as_root apt-get update -qq && as_root apt-get install -qq -y --no-install-recommends $2 >/dev/null; }
}

need mosquitto mosquitto
need mosquitto_pub mosquitto-clients
need openssl openssl
need influxd influxdb
need victoria-metrics victoria-metrics
need systemd-analyze systemd
need shellcheck shellcheck
need chromium "chromium fonts-dejavu-core"
environment test data

cd "$checkout"
python=$venv/bin/python
"$python" -m ruff check .
"$python" -m ruff format --check .
"$python" -m mypy
# A file of tests stays whole in one worker, since its server or browser is started once for all of them. All
# workers hash alike, for a test is known to them by its name, and sets stand in names; another way each time.
PYTHONHASHSEED=${PYTHONHASHSEED:-$("$python" -c 'import random; print(random.randrange(1, 2**32))')}
export PYTHONHASHSEED
say "PYTHONHASHSEED=$PYTHONHASHSEED"
exec "$python" -m pytest --numprocesses auto --dist loadfile "$@"
