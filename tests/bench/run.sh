#!/bin/sh
# sh tests/bench/run.sh NAME [options]: one bench, on the project's own Python if there is one.
set -eu
cd "$(dirname "$0")/../.."
if [ $# -lt 1 ] || [ ! -f "tests/bench/$1.py" ]; then
    echo "sh tests/bench/run.sh NAME, where NAME is a bench in tests/bench, such as intake" >&2
    exit 64
fi
python=python3
[ -x .venv/bin/python ] && python=.venv/bin/python
name=$1
shift
PYTHONPATH=.:tests exec "$python" "tests/bench/$name.py" "$@"
