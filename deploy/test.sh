#!/usr/bin/env bash
# Runs the tests; arguments go to pytest.
set -euo pipefail
source "$(dirname "$0")/environment.sh"
cd "$ROOT"
exec "$PYTHON" -m pytest "$@"
