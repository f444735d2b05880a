#!/usr/bin/env bash
# Takes what fuzzing found into the corpus that is kept: `fuzz/keep.sh [TARGET...]`, after `fuzz/run.sh`. Of all small inputs it keeps
# those that reach the most code, in this order, as many as fit: some tens of kilobytes of each target.
set -euo pipefail
cd "$(dirname "$0")/.."
targets=("$@")
((${#targets[@]})) || targets=(link document flow_balance heat_budget fill_level whole_plan inquiries sums)
kilobytes=${KEEP_KILOBYTES:-32}
files=${KEEP_FILES:-100}

for target in "${targets[@]}"; do
    binary=$(ls -t fuzz/target/*/release/"$target" | head -n 1)
    small=$(mktemp -d)
    chosen=$(mktemp -d)
    mkdir -p "fuzz/corpus/$target"
    for kept in "fuzz/corpus/$target" "fuzz/found/$target"; do
        find "$kept" -type f -size -4 -exec cp -t "$small" {} +
    done
    "$binary" -set_cover_merge=1 -timeout=10 -rss_limit_mb=2048 "$chosen" "$small" 2>&1 | tail -n 1
    find "fuzz/corpus/$target" -type f -delete
    count=0 bytes=0
    # They are written in the order in which they are chosen: whichever reaches most that is new.
    while read -r _ size file; do
        ((count < files && bytes + size <= kilobytes * 1024)) || continue
        count=$((count + 1)) bytes=$((bytes + size))
        cp "$file" "fuzz/corpus/$target"
    done < <(find "$chosen" -type f -printf '%T@ %s %p\n' | sort -n)
    echo "$target: $count of $(find "$chosen" -type f | wc -l) inputs kept, $bytes bytes"
    rm -r "$small" "$chosen"
done
