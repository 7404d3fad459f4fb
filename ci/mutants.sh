#!/bin/sh
# Changes what decides, one edit at a time, and expects a unit test to notice each. An edit that none notices must stand in
# ci/mutants-accepted.txt with the reason why the result can't differ.
#
# usage: ci/mutants.sh --changed         edits of lines that the last commit changed, at most MOST of them (as CI does)
#        ci/mutants.sh --shard K/N       the K-th of N parts of all edits, K from 0
set -eu
cd "$(dirname "$0")/.."
MOST=6
out=target/mutants
mkdir -p "$out"
# Quickly built: nearly all of its time it waits for the compiler and the tests.
fetch() {
    cargo mutants --version >/dev/null 2>&1 || cargo install -q --locked --debug --version 27.1.0 cargo-mutants
}
case ${1:-} in
--changed)
    if ! git rev-parse -q --verify HEAD~1 >/dev/null; then
        echo "no commit before this one: nothing has changed"
        exit 0
    fi
    git diff HEAD~1 -- 'harness/src/rules/*.rs' 'harness/src/vehicle/*.rs' ':!harness/src/rules/tests' >"$out/changed.diff"
    if [ ! -s "$out/changed.diff" ]; then
        echo "no line of what decides has changed"
        exit 0
    fi
    fetch
    count=$(cargo mutants --list --in-diff "$out/changed.diff" 2>/dev/null | wc -l)
    parts=$(((count + MOST - 1) / MOST))
    if [ "$count" -eq 0 ]; then
        echo "no changed line decides anything"
        exit 0
    fi
    # Which part follows from the commit alone.
    part=$((0x$(git rev-parse --short=6 HEAD) % parts))
    set -- --in-diff "$out/changed.diff" --shard "$part/$parts"
    ;;
--shard) fetch ;;
*)
    sed -n '2,7s/^# \{0,1\}//p' "$0"
    exit 2
    ;;
esac
status=0
cargo mutants --no-shuffle --colors never -o "$out" "$@" || status=$?
# 2: some edits were not noticed; 3: some made the tests hang, which is noticed too.
case $status in 0 | 2 | 3) ;; *) exit "$status" ;; esac
python3 ci/mutants_accepted.py "$out/mutants.out/missed.txt" ci/mutants-accepted.txt
