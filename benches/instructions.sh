#!/usr/bin/env bash
# Counts the instructions of `benches/instructions.rs` under valgrind and holds them against the kept figures.
#
#   benches/instructions.sh             compares; fails where a case takes over 5 % more
#   benches/instructions.sh --keep      writes the figures anew
#
# The figures depend on the compiler and the C library, so the file says which compiler; they do not depend on what else the
# machine does. The build has settings of its own, which take a fraction of the time of a release and change little:
# compare figures with figures. Needs valgrind (`apt-get install valgrind`).
set -euo pipefail
cd "$(dirname "$0")/.."

command -v valgrind >/dev/null || { echo 'valgrind is not installed' >&2; exit 2; }
kept=benches/instructions.txt
bench=$(cargo bench --locked --bench instructions --no-run --message-format=json --target-dir target/instructions \
    --config 'profile.bench.lto="off"' --config 'profile.bench.codegen-units=16' \
    --config 'profile.bench.package.hotwell.codegen-units=1' |
    sed -n 's/.*"name":"instructions".*"executable":"\([^"]*\)".*/\1/p' | tail -n 1)

# Instructions of so many times of a case.
count() {
    valgrind --tool=callgrind --callgrind-out-file=/dev/null "$bench" "$1" "$2" 2>&1 |
        sed -n 's/.*Collected : \([0-9]*\).*/\1/p'
}

figures="# instructions each; $(rustc --version)"
worse=0
while IFS= read -r name; do
    few=$(count "$name" 2)
    many=$(count "$name" 12)
    each=$(((many - few) / 10))
    figures+=$'\n'"$each"$'\t'"$name"
    before=$(awk -F '\t' -v name="$name" '$2 == name { print $1 }' "$kept" 2>/dev/null || true)
    if [[ -n $before ]]; then
        printf '%12d  %-30s %s\n' "$each" "$name" "$(awk "BEGIN { printf \"%+.1f %%\", ($each - $before) * 100 / $before }")"
        if ((each * 100 > before * 105)); then worse=1; fi
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
