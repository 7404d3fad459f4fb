#!/bin/sh
# Compares our engine speeds with all rows of a published demo, that of co2sim 3.0.0 (EUPL 1.1 or later): it is fetched,
# its digest checked, read and thrown away; nothing of it is in this repository but the four rows that a test quotes.
# Optional, no step of .ci/run. Needs Python 3 with venv.
#
# usage: ci/outside/co2sim.sh
set -eu
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 -m venv "$work/venv"
pip="$work/venv/bin/pip --disable-pip-version-check -q"
$pip install -r ci/outside/requirements.txt
$pip download --no-deps -d "$work" co2sim==3.0.0
echo "3ac098d8be6a268c2f1a5a397989fd54376109a242bdc2a6db7ae4887ccf63dd  $work/co2sim-3.0.0-py2.py3-none-any.whl" |
    sha256sum -c --quiet -
"$work/venv/bin/python" - "$work" <<'PY'
import csv
import io
import sys
import zipfile

import openpyxl

folder = sys.argv[1]
wheel = zipfile.ZipFile(f"{folder}/co2sim-3.0.0-py2.py3-none-any.whl")
book = openpyxl.load_workbook(
    io.BytesIO(wheel.read("co2mpas/demos/co2mpas_demo-1.xlsx")), read_only=True, data_only=True
)
rows = book["WLTP-H"].iter_rows(min_row=2, values_only=True)
names = next(rows)
columns = [names.index(name) for name in ("times", "velocities", "target gears", "engine_speeds_out")]
with open(f"{folder}/rows.csv", "w", newline="") as out:
    for row in rows:
        if row[0] is not None:
            csv.writer(out).writerow([row[at] for at in columns])
PY
SPRAG_OUTSIDE_ROWS="$work/rows.csv" cargo test -p sprag-tests --test suite -- --ignored --nocapture every_published_row
