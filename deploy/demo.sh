#!/bin/sh
# Shows Vermistat at work within a minute: simulated bins, a broker in the same process, notices on this screen.
#
#   sh deploy/demo.sh [options of `vermistat demo`]
set -eu
checkout=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd -P)
. "$checkout/deploy/environment.sh"
environment demo
exec "$venv/bin/vermistat" demo "$@"
