#!/bin/sh
# Computes the margins of tests/goldens/rtamt anew with rtamt and compares them with the committed ones.
# Needs Python 3.11 (rtamt needs one below 3.13) and pip; works in a folder of its own and leaves nothing behind.
#
# usage: ci/rtamt/check.sh             compares
#        ci/rtamt/check.sh --write     writes them; read what has changed before committing it
set -eu
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"${PYTHON:-python3.11}" -m venv "$work/venv"
"$work/venv/bin/pip" install -q --disable-pip-version-check -r ci/rtamt/requirements.txt
"$work/venv/bin/python" ci/rtamt/make_goldens.py tests/goldens/rtamt specs >"$work/margins.json"
if [ "${1:-}" = --write ]; then
    cp "$work/margins.json" tests/goldens/rtamt/margins.json
else
    diff tests/goldens/rtamt/margins.json "$work/margins.json"
    echo "rtamt computes the same margins"
fi
