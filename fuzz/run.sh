#!/usr/bin/env bash
# Fuzzes each target for so many seconds: `fuzz/run.sh [SECONDS [TARGET...]]`. It needs `cargo install cargo-fuzz` and either a nightly
# toolchain or RUSTC_BOOTSTRAP=1. It starts from fuzz/seeds, fuzz/corpus and the examples; what is new stands in fuzz/found, from
# which fuzz/keep.sh takes into fuzz/corpus what is worth it, and what is wrong in fuzz/artifacts.
set -euo pipefail
cd "$(dirname "$0")/.."
seconds=${1:-60}
shift || true
targets=("$@")
((${#targets[@]})) || targets=(link document flow_balance heat_budget fill_level whole_plan inquiries sums)

# The words of a plan, taken from its schema: without them no field is ever spelt right.
python3 - > fuzz/words.dict <<'PY'
import json

schemas = json.load(open("openapi/openapi.json"))["components"]["schemas"]
words = {name for schema in schemas.values() for name in schema.get("properties", {})}
words |= {word for schema in schemas.values() for word in schema.get("enum", []) if isinstance(word, str)}
words |= {"kg/s", "kW", "°C", "MJ", "day", "min", "%", "power"}
for word in sorted(words):
    print(json.dumps(json.dumps(word)))
PY

# One set of features for all targets, so that the program is built once.
features=()
[[ " ${targets[*]} " == *" link "* ]] && features=(--features link)

for target in "${targets[@]}"; do
    seeds=(fuzz/corpus/"$target" fuzz/seeds/"$target")
    case $target in
    document) seeds+=(examples/plans examples/questions) ;;
    inquiries) seeds+=(examples/questions) ;;
    sums | link) ;;
    *) seeds+=(examples/plans) ;;
    esac
    mkdir -p "fuzz/found/$target" "fuzz/corpus/$target" "fuzz/seeds/$target"
    echo "== $target, $seconds s"
    cargo fuzz run --fuzz-dir fuzz "${features[@]}" "$target" "fuzz/found/$target" "${seeds[@]}" -- \
        -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=16384 -dict=fuzz/words.dict -print_final_stats=1
done
