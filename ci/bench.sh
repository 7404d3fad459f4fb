#!/usr/bin/env bash
# The benchmark table, all figures side by side in one run: bash ci/bench.sh [GROUP...]
#
# Exit 1 where a figure doesn't reach what it must. Take nothing else on the machine meanwhile.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --locked --release --package sprag --package sprag-tests >&2
exec target/release/bench "$@"
