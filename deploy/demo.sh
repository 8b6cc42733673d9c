#!/usr/bin/env bash
# Makes the example projects of deploy/recipes and leaves their files in a folder (default: out/demo).
set -euo pipefail
source "$(dirname "$0")/environment.sh"
exec "$PYTHON" "$ROOT/deploy/demo.py" "${1:-$ROOT/out/demo}"
