#!/usr/bin/env bash
# Writes what the deployed service is made of, every file of it by its digest. Run when a dependency
# of pyproject.toml changes, or to take up new releases; needs uv.
set -euo pipefail
cd "$(dirname "$0")/../.."
uv pip compile --universal --python-version 3.11 --generate-hashes --upgrade \
    --no-emit-index-url --no-annotate --no-header --quiet \
    --extra postgres --extra s3 --extra traces pyproject.toml clients/python/pyproject.toml \
    --output-file deploy/supply/service.lock
echo "setuptools>=77" | uv pip compile --universal --python-version 3.11 --generate-hashes --upgrade \
    --no-emit-index-url --no-annotate --no-header --quiet - --output-file deploy/supply/build.lock
