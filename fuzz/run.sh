#!/usr/bin/env bash
# Fuzzes each target for so many seconds: `fuzz/run.sh [SECONDS [TARGET...]]`. It needs `cargo install cargo-fuzz` and either a nightly
# toolchain or RUSTC_BOOTSTRAP=1. What is found stands in fuzz/artifacts; what is kept for the next run in fuzz/corpus.
set -euo pipefail
cd "$(dirname "$0")/.."
seconds=${1:-60}
shift || true
targets=("$@")
((${#targets[@]})) || targets=(document flow_balance heat_budget fill_level whole_plan inquiries sums)

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

for target in "${targets[@]}"; do
    seeds=(fuzz/seeds/"$target")
    case $target in
    document) seeds+=(examples/plans examples/questions) ;;
    inquiries) seeds+=(examples/questions) ;;
    sums | link) ;;
    *) seeds+=(examples/plans) ;;
    esac
    features=()
    [ "$target" = link ] && features=(--features link)
    mkdir -p "fuzz/corpus/$target" "fuzz/seeds/$target"
    echo "== $target, $seconds s"
    cargo fuzz run --fuzz-dir fuzz "${features[@]}" "$target" "fuzz/corpus/$target" "${seeds[@]}" -- \
        -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=16384 -dict=fuzz/words.dict -print_final_stats=1
done
