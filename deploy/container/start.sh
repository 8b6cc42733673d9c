#!/bin/sh
# Starts a command of letterply; needs to write to /tmp and to the data folder, nowhere else.
set -eu
umask 077
mkdir -p "$NUMBA_CACHE_DIR"
cp -r /opt/letterply/kernels/. "$NUMBA_CACHE_DIR"
exec /opt/letterply/bin/letterply "$@"
