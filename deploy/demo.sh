#!/usr/bin/env bash
# Makes the example projects of deploy/recipes and leaves their files in a folder (default: out/demo);
# with --serve the service stays, its bench page open with them.
set -euo pipefail
source "$(dirname "$0")/environment.sh"
exec "$PYTHON" "$ROOT/deploy/demo.py" "$@"
