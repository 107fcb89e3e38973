#!/bin/sh
# Shows Vermistat at work: simulated bins, a broker in the same process, six weeks in steps and then a night whose
# notices appear on this screen.
#
#   sh deploy/demo.sh [options of `vermistat demo`]
set -eu
checkout=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$checkout/deploy/environment.sh"
environment demo
exec "$venv/bin/vermistat" demo "$@"
