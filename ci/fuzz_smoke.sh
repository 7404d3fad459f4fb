#!/bin/sh
# Fuzzes each target for a bounded number of runs, from its committed seeds: a crash, or too few executions, fails.
# Needs Rust (stable will do) and a C++ compiler, which libFuzzer is built with; as root on Debian it fetches that one.
#
# usage: ci/fuzz_smoke.sh [TARGET...]      FUZZ_RUNS overrides the number of runs, for longer searches.
#        ci/fuzz_smoke.sh --build          builds the targets and runs none.
set -eu
cd "$(dirname "$0")/../fuzz"

if ! command -v c++ >/dev/null && ! command -v g++ >/dev/null; then
    apt-get update -qq && apt-get install -y -qq g++
fi

host=$(rustc -vV | sed -n 's/^host: //p')
# Coverage alone, no sanitizer: that is all stable has, and the code under test has no unsafe block for one to watch.
# RUSTC_BOOTSTRAP lets stable take the unstable option that adds the coverage counters.
export RUSTC_BOOTSTRAP=1
if cargo fuzz --version >/dev/null 2>&1; then
    (cd .. && cargo fuzz build -s none --target "$host")
else
    coverage='-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4'
    coverage="$coverage -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table"
    coverage="$coverage -Cllvm-args=-sanitizer-coverage-trace-compares --cfg fuzzing -Ccodegen-units=1"
    # Naming the target keeps these flags away from build scripts and macros, which don't link libFuzzer.
    RUSTFLAGS="$coverage" cargo build --release --locked --target "$host"
fi

[ "${1:-}" != --build ] || exit 0
if [ $# -eq 0 ]; then
    for file in targets/*.rs; do
        name=${file#targets/}
        set -- "$@" "${name%.rs}"
    done
fi

failed=0
for target in "$@"; do
    # A run of the closed loop is thousands of ticks; a parser's is a few microseconds.
    # A whole spec is longer than 4 KiB, and a drive file holds one.
    longest=4096
    case $target in
        closed_loop | own_box) runs=600 least=500 longest=65536 ;;
        spec_toml) runs=25000 least=20000 longest=10240 ;;
        *) runs=25000 least=20000 ;;
    esac
    runs=${FUZZ_RUNS:-$runs}
    # What is found on the way is thrown away: every smoke run starts from the committed seeds.
    corpus=target/corpus/$target log=target/$target.log
    rm -rf "$corpus"
    mkdir -p "$corpus" "seeds/$target" "artifacts/$target"
    # A fixed seed makes a failure here one that can be had again.
    status=0
    "target/$host/release/$target" -runs="$runs" -seed=1 -max_len="$longest" -timeout=60 -print_final_stats=1 \
        -artifact_prefix="artifacts/$target/" "$corpus" "seeds/$target" >"$log" 2>&1 || status=$?
    done_runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$log")
    echo "$target: ${done_runs:-0} executions"
    if [ "$status" -ne 0 ]; then
        tail -n 40 "$log"
        echo "$target: failed with code $status; the input lies in fuzz/artifacts/$target/" >&2
        failed=1
    elif [ "${done_runs:-0}" -lt "$least" ]; then
        echo "$target: fewer than $least executions" >&2
        failed=1
    fi
done
exit $failed
