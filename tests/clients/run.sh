#!/usr/bin/env bash
# Generates clients in Python, TypeScript and Rust from the API description, compiles each strictly, and makes the calls of golden.json
# with them. What is generated is not edited by hand.
#
#     cargo build --release && tests/clients/run.sh [python] [typescript] [rust]
#
# It needs Python 3.11 or later, Node 20 or later and cargo, installs what it runs into a folder outside the repository, where the
# generated code stays too, and starts the program itself.
set -euo pipefail
cd "$(dirname "$0")/../.."
here=$PWD/tests/clients
tools=${CLIENT_TOOLS:-${TMPDIR:-/tmp}/hotwell-clients}
address=127.0.0.1:18096
languages=("$@")
((${#languages[@]})) || languages=(python typescript rust)
mkdir -p "$tools"

"${PROGRAM:-target/release/hotwell}" --listen "$address" --log warn > /dev/null &
service=$!
trap 'kill "$service"' EXIT
until curl -sf "http://$address/readyz" > /dev/null; do
    kill -0 "$service" || exit 1
    sleep 0.1
done

python() {
    local folder=$tools/python
    mkdir -p "$folder"
    [ -x "$folder/venv/bin/mypy" ] || {
        python3 -m venv "$folder/venv"
        "$folder/venv/bin/pip" install --quiet 'openapi-python-client==0.29.*' 'mypy==2.*' ruff
    }
    cp "$here"/python/* "$folder"
    PATH=$folder/venv/bin:$PATH openapi-python-client generate --path openapi/openapi.json --config "$folder/generator.yaml" \
        --meta none --output-path "$folder/hotwell_client" --overwrite --fail-on-warning
    (cd "$folder" && venv/bin/mypy --config-file mypy.ini golden.py && venv/bin/python golden.py "http://$address" "$here/golden.json")
}

typescript() {
    local folder=$tools/typescript
    mkdir -p "$folder"
    cp "$here"/typescript/* "$folder"
    (cd "$folder" && rm -rf client built && npm install --silent)
    (cd "$folder" && npx openapi-ts --input "$OLDPWD/openapi/openapi.json" --output client)
    (cd "$folder" && npx tsc --project . && node built/golden.js "http://$address" "$here/golden.json")
}

rust() {
    local folder=$tools/rust
    mkdir -p "$folder/src"
    cp "$here"/rust/Cargo.toml openapi/openapi-3.0.json "$folder"
    cp "$here"/rust/src/main.rs "$folder/src"
    (cd "$folder" && cargo run --quiet -- "http://$address" "$here/golden.json")
}

failed=()
for language in "${languages[@]}"; do
    echo "== $language"
    # In a shell of its own: what fails in it ends it, and not the others.
    (set -e; "$language") & wait $! || failed+=("$language")
done
((${#failed[@]} == 0)) || { echo "failed: ${failed[*]}"; exit 1; }
