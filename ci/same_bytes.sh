#!/usr/bin/env bash
# Same spec, build and seed, same bytes: drives a few runs on one thread and on two, and compares the evidence file by
# file, but for volatile.json. One run is of a faulty box, so that shrinking and drive files are compared too.
#
# usage: ci/same_bytes.sh SPRAG FOLDER
set -euo pipefail
[ $# -eq 2 ] || { echo "usage: ci/same_bytes.sh SPRAG FOLDER" >&2; exit 2; }
sprag=$1 folder=$2
rm -rf "$folder"
for box in reference any-answer-counts; do
    codes=()
    for jobs in 1 2; do
        code=0
        "$sprag" test specs/van.toml --controller "builtin:$box" --random 60 --jobs $jobs --progress none \
            --evidence "$folder/$box-$jobs" >"$folder.screen" || code=$?
        [ $code -lt 64 ] || { cat "$folder.screen"; exit 1; }
        codes+=("$code")
    done
    [ "${codes[0]}" = "${codes[1]}" ] || { echo "$box: exit codes ${codes[*]}"; exit 1; }
    # The evidence is there, its manifest is right, and nothing differs.
    (cd "$folder/$box-1" && sha256sum --quiet -c manifest.sha256)
    diff -r --exclude volatile.json "$folder/$box-1" "$folder/$box-2"
    echo "$box: $(wc -l <"$folder/$box-1/manifest.sha256") files are the same, exit code $code"
done
