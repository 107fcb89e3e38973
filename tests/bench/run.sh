#!/bin/sh
# sh tests/bench/run.sh NAME [options]: one bench, on the project's own Python if there is one.
set -eu
cd "$(dirname "$0")/../.."
bench=tests/bench/${1:-}
[ -f "$bench/__main__.py" ] || bench=$bench.py
if [ $# -lt 1 ] || [ ! -e "$bench" ]; then
    echo "sh tests/bench/run.sh NAME, where NAME is a bench in tests/bench, such as intake" >&2
    exit 64
fi
python=python3
[ -x .venv/bin/python ] && python=.venv/bin/python
shift
PYTHONPATH=.:tests exec "$python" "$bench" "$@"
