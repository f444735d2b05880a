#!/usr/bin/env bash
# Holds a running service against its own API description, all checks on, with 20,000 generated requests or more, then lints the
# description by the recommended rules of two linters.
#
#     cargo build --release && tests/contract/run.sh [CASES_PER_OPERATION]
#
# It needs Python 3.11 or later (`PYTHON` names another than `python3`) and Node 20 or later, installs what it runs into a folder
# outside the repository, and starts the program itself.
set -euo pipefail
cd "$(dirname "$0")/../.."
cases=${1:-60}
tools=${CONTRACT_TOOLS:-${TMPDIR:-/tmp}/hotwell-contract}
address=127.0.0.1:18097

mkdir -p "$tools"
[ -x "$tools/venv/bin/schemathesis" ] || {
    "${PYTHON:-python3}" -m venv "$tools/venv"
    "$tools/venv/bin/pip" install --quiet 'schemathesis==4.*'
}
[ -x "$tools/node_modules/.bin/redocly" ] || npm install --silent --prefix "$tools" @stoplight/spectral-cli@6 @redocly/cli@2

printf 'extends: ["spectral:oas"]\n' > "$tools/spectral.yaml"
for document in openapi/openapi.json openapi/openapi-3.0.json; do
    "$tools/node_modules/.bin/spectral" lint --ruleset "$tools/spectral.yaml" --fail-severity hint "$document"
    "$tools/node_modules/.bin/redocly" lint --extends=recommended --max-problems 20 "$document"
done

"${PROGRAM:-target/release/hotwell}" --listen "$address" --log warn > /dev/null &
service=$!
trap 'kill "$service"' EXIT
until curl -sf "http://$address/readyz" > /dev/null; do sleep 0.1; done

"$tools/venv/bin/schemathesis" --config-file tests/contract/schemathesis.toml run "http://$address/openapi-3.2.json" \
    --checks all --max-examples "$cases" --phases examples,coverage,fuzzing --workers 2 --continue-on-failure --no-color
