#!/bin/sh
# Computes tests/outside/gtr15-*.csv anew and compares them with the committed ones: the gear shifts of the 39 vehicles of
# the demo of wltp-gearshift 1.1.3 (EUPL 1.1 or later), an implementation of UN GTR 15 annex 2. Facts only: the program is
# fetched, run and thrown away. Optional, no step of .ci/run. Needs Python 3.11 with venv; takes two minutes.
#
# usage: ci/outside/gtr15.sh             compares
#        ci/outside/gtr15.sh --write     writes them
set -eu
cd "$(dirname "$0")/../.."
here=$(pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3.11 -m venv "$work/venv"
"$work/venv/bin/pip" install -q --disable-pip-version-check -r ci/outside/requirements-gtr15.txt
cd "$work"
venv/bin/gearshift demo demo >log 2>&1
echo "cb1a59c3c7ae6dfcbce176ef23a861891df001f627381964274222d405a0194f  demo/gs_input_demo.xlsx" | sha256sum -c --quiet -
venv/bin/gearshift run demo/gs_input_demo.xlsx -O out/ >>log 2>&1
venv/bin/python "$here/ci/outside/gtr15.py" demo/gs_input_demo.xlsx out .
cd "$here"
for file in gtr15-vehicles.csv gtr15-shifts.csv; do
    if [ "${1:-}" = --write ]; then
        cp "$work/$file" tests/outside/
    else
        diff "tests/outside/$file" "$work/$file"
    fi
done
