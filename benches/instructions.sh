#!/usr/bin/env bash
# Counts the instructions of `benches/instructions.rs` under valgrind and holds them against the kept figures.
#
#   benches/instructions.sh             compares; fails where a case takes over 5 % more
#   benches/instructions.sh --keep      writes the figures anew
#
# The figures depend on the compiler, its settings and the C library, so the file says which; they do not depend on what else the
# machine does. Needs valgrind (`apt-get install valgrind`).
set -euo pipefail
cd "$(dirname "$0")/.."

command -v valgrind >/dev/null || { echo 'valgrind is not installed' >&2; exit 2; }
kept=benches/instructions.txt
bench=$(cargo bench --locked --bench instructions --no-run --message-format=json |
    sed -n 's/.*"name":"instructions".*"executable":"\([^"]*\)".*/\1/p' | tail -n 1)

# Instructions of so many times of a case.
count() {
    valgrind --tool=callgrind --callgrind-out-file=/dev/null "$bench" "$1" "$2" 2>&1 |
        sed -n 's/.*Collected : \([0-9]*\).*/\1/p'
}

settings=$(sed -n '/^\[profile.release\]/,/^$/p' Cargo.toml | sed -n '/=/p' | tr '\n' ' ')
figures="# instructions each; $(rustc --version), $settings"
worse=0
while IFS= read -r name; do
    few=$(count "$name" 2)
    many=$(count "$name" 12)
    each=$(((many - few) / 10))
    figures+=$'\n'"$each"$'\t'"$name"
    before=$(awk -F '\t' -v name="$name" '$2 == name { print $1 }' "$kept" 2>/dev/null || true)
    if [[ -n $before ]]; then
        change=$(((each - before) * 1000 / before))
        printf '%12d  %-30s %+d.%d %%\n' "$each" "$name" $((change / 10)) $((change < 0 ? -change % 10 : change % 10))
        if ((change > 50)); then worse=1; fi
    else
        printf '%12d  %s\n' "$each" "$name"
    fi
done < <("$bench")

if [[ ${1:-} == --keep ]]; then
    printf '%s\n' "$figures" >"$kept"
elif ((worse)); then
    echo 'Some cases take over 5 % more instructions than kept in benches/instructions.txt.' >&2
    exit 1
fi
