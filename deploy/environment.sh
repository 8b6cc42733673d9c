# Sourced by the other scripts: makes or reuses the virtual environment and installs the project.
# Sets PYTHON and BIN. LETTERPLY_VENV names another folder for it (default: .venv in the tree).
# A stamp of the project files tells whether anything has to be installed again.
set -euo pipefail
ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
VENV="${LETTERPLY_VENV:-$ROOT/.venv}"
BIN="$VENV/bin"
PYTHON="$BIN/python"
if [ ! -x "$PYTHON" ]; then
    python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
        || { echo "letterply needs Python 3.11 or newer" >&2; exit 1; }
    echo "making the environment in $VENV"
    python3 -m venv "$VENV"
fi
stamp="$(cat "$ROOT/pyproject.toml" "$ROOT/clients/python/pyproject.toml" | cksum) $ROOT"
if [ "$(cat "$VENV/letterply.stamp" 2>/dev/null || true)" != "$stamp" ]; then
    echo "installing letterply (a few minutes the first time)"
    "$PYTHON" -m pip install --quiet --disable-pip-version-check \
        --editable "$ROOT[test]" --editable "$ROOT/clients/python"
    "$PYTHON" -m letterply.jobs.warm
    echo "$stamp" > "$VENV/letterply.stamp"
fi
