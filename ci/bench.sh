#!/usr/bin/env bash
# The benchmark table, all figures side by side in one run: bash ci/bench.sh [GROUP...]
#
# Exit 1 where a figure doesn't reach what it must. Take nothing else on the machine meanwhile.
set -euo pipefail
cd "$(dirname "$0")/.."
# The group on monitors needs a Python that has rtamt, which can't do with one newer than 3.12.
case " ${*:-monitors} " in
*" monitors "*)
    if [ ! -x target/rtamt/bin/python ]; then
        for python in python3.11 python3.12 python3; do
            "$python" -m venv target/rtamt 2>/dev/null && break
        done
        target/rtamt/bin/pip install -q --disable-pip-version-check -r ci/rtamt/requirements.txt >&2
    fi
    export RTAMT_PYTHON=$PWD/target/rtamt/bin/python
    ;;
esac
# The group on the search compares with a fuzzer, where that can be built.
case " ${*:-search} " in
*" search "*)
    if sh ci/fuzz_smoke.sh --build >&2; then
        export SPRAG_FUZZED=$PWD/fuzz/target/$(rustc -vV | sed -n 's/^host: //p')/release/seeded_fault
    fi
    ;;
esac
cargo build --locked --release --package sprag --package sprag-tests >&2
exec target/release/bench "$@"
