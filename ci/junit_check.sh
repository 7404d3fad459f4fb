#!/bin/sh
# Is a JUnit file what CI servers read? Validates it against junit-10.xsd, taken from pytest's source distribution,
# and reads it with an independent parser. Usage: ci/junit_check.sh JUNIT_XML [WORK_FOLDER]
set -eu
[ $# -ge 1 ] || { echo "usage: ci/junit_check.sh JUNIT_XML [WORK_FOLDER]" >&2; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
file=$1
work=${2:-$here/../target/junit-check}
sum=a1a816f58d1bf95ebabf371994df0b9246dee66ea9572fbec4f9296f1b2c0ff6
mkdir -p "$work"
if [ ! -e "$work/ready" ]; then
    if ! python3 -c 'import ensurepip, venv' 2>/dev/null; then
        apt-get update -qq && apt-get install -y -qq python3-venv
    fi
    python3 -m venv "$work/venv"
    "$work/venv/bin/pip" -q install -r "$here/requirements-junit.txt"
    "$work/venv/bin/pip" -q download --no-deps --no-build-isolation --no-binary pytest -d "$work" pytest==9.2.0
    tar -xzf "$work/pytest-9.2.0.tar.gz" -C "$work" pytest-9.2.0/testing/example_scripts/junit-10.xsd
    mv "$work/pytest-9.2.0/testing/example_scripts/junit-10.xsd" "$work/junit-10.xsd"
    touch "$work/ready"
fi
echo "$sum  $work/junit-10.xsd" | sha256sum -c --quiet -
"$work/venv/bin/python" - "$work/junit-10.xsd" "$file" <<'PY'
import sys
from junitparser import JUnitXml
from lxml import etree

schema, path = sys.argv[1:]
tree = etree.parse(path)
validator = etree.XMLSchema(etree.parse(schema))
if not validator.validate(tree):
    sys.exit("\n".join(f"{path}:{e.line}: {e.message}" for e in validator.error_log))

def kind(case):
    """A case is kept, or the first of its results in lower case: failure, error, skipped."""
    return type(case.result[0]).__name__.lower() if case.result else "kept"

kinds, names = [], []
for suite in JUnitXml.fromfile(path):
    cases = list(suite)
    kinds += [kind(case) for case in cases]
    names += [(case.classname, case.name) for case in cases]
    if (suite.tests, suite.failures, suite.errors) != (len(cases), kinds.count("failure"), kinds.count("error")):
        sys.exit(f"{path}: the suite's counts are not those of its cases")
if not names:
    sys.exit(f"{path}: no case")
if len(set(names)) != len(names):
    sys.exit(f"{path}: two cases share class and name")
print(f"{path}: valid against junit-10.xsd;", ", ".join(f"{kinds.count(k)} {k}" for k in sorted(set(kinds))))
PY
