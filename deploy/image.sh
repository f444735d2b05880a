#!/usr/bin/env bash
# Builds the image and tries it, as root, on a Debian 12 that has no container engine running:
#
#   apt-get install --no-install-recommends buildah podman crun mmdebstrap curl
#   deploy/image.sh base                      what to build with, of Debian's packages and this machine's Rust, where no registry is at hand
#   deploy/image.sh build [BASE]              the image, by deploy/Containerfile and on such a base, or on the one named there
#   deploy/image.sh try                       runs it as narrow as it goes, asks it, stops it, and says what was seen
#
# RUNTIME=runc takes that in place of crun, which refuses a machine with control groups of both versions.
set -euo pipefail
cd "$(dirname "$0")/.."

base=localhost/hotwell-build-base
image=${IMAGE:-localhost/hotwell}
runtime=()
[[ -z ${RUNTIME:-} ]] || runtime=(--runtime "$RUNTIME")

die() { echo "$*" >&2; exit 1; }

# Certificates come along, for a network whose authority is its own.
make_base() {
    local rust work container
    rust=$(rustc --print sysroot)
    [[ -x $rust/bin/cargo && $rust != /usr ]] || die "$rust is no toolchain of rustup's"
    work=$(mktemp -d)
    # shellcheck disable=SC2064
    trap "rm -rf '$work'" EXIT
    mmdebstrap --variant=minbase --include=ca-certificates,gcc,libc6-dev bookworm "$work/debian.tar"
    container=$(buildah from scratch)
    buildah add --quiet "$container" "$work/debian.tar" /
    buildah copy --quiet "$container" /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
    buildah copy --quiet "$container" "$rust/bin" /usr/local/bin
    buildah copy --quiet "$container" "$rust/lib" /usr/local/lib
    buildah commit --quiet --rm "$container" "$base"
}

build() {
    local on=()
    [[ -z ${1:-} ]] || on=(--build-arg "BUILD_IMAGE=$1")
    buildah build "${runtime[@]}" --layers --network host "${on[@]}" --file deploy/Containerfile --tag "$image" .
}

milliseconds() { echo $(($(date +%s%N) / 1000000)); }

# A line of what the kernel knows of the process.
status() { sed -n "s/^$1:[[:space:]]*//p" "/proc/$pid/status"; }

ask() { curl --silent --show-error --fail --max-time 20 "$@"; }

readyz() { curl --silent --output /dev/null --write-out '%{http_code}' --max-time 2 "$at/readyz" || true; }

try() {
    local root began took pid slow answered code
    local name=hotwell-try-$$ port=${PORT:-18480} plan=examples/plans/kestrel-deep.json
    local at=http://127.0.0.1:$port
    local json=(--header 'content-type: application/json' --data "@$plan")
    local sum="$at/v1/sums/units-needed.txt?flow=2.5%20kg/s&each=300%20g/s"

    root=$(podman image mount "$image")
    echo "files in it: $(cd "$root" && find . ! -type d -printf '%p, %s bytes')"
    podman image unmount "$image" >/dev/null

    # Not even the folders in memory that podman gives beside a root that is read only. As many files as 10,000 connections need.
    local narrow=(--read-only --read-only-tmpfs=false --cap-drop=all --security-opt=no-new-privileges
        --pids-limit=64 --memory=512m --ulimit=nofile=16384:16384 --ulimit=nproc=4096:4096 --network=host)
    began=$(milliseconds)
    podman "${runtime[@]}" run "${narrow[@]}" --detach --name "$name" --env "HOTWELL_LISTEN=127.0.0.1:$port" "$image" >/dev/null
    # shellcheck disable=SC2064
    trap "podman rm --force '$name' >/dev/null" EXIT
    until [[ $(readyz) == 200 ]]; do
        took=$(($(milliseconds) - began))
        ((took < 30000)) || die 'it is not ready after 30 s'
    done
    echo "ready $(($(milliseconds) - began)) ms after podman was called"

    pid=$(podman inspect --format '{{.State.Pid}}' "$name")
    echo "user and group: $(status Uid | cut -f 2) $(status Gid | cut -f 2); capabilities: $(status CapEff) of $(status CapBnd);" \
        "no new privileges: $(status NoNewPrivs); filter of system calls: $(status Seccomp)"
    [[ $(status Uid | cut -f 2) == 65532 && $(status CapBnd) == 0000000000000000 && $(status NoNewPrivs) == 1 ]] || die 'too wide'
    awk '$5 == "/" { print "root: " $6 }' "/proc/$pid/mountinfo"
    awk '$5 == "/" && $6 ~ /^ro/ { found = 1 } END { exit !found }' "/proc/$pid/mountinfo" || die 'its root can be written to'
    sleep 1
    echo "memory when nobody asks: $(($(status VmRSS | cut -d ' ' -f 1) / 1024)) MiB"

    echo "sum: $(ask "$sum")"
    echo "plan: $(ask "${json[@]}" "$at/v1/plan.txt")"
    [[ $(ask "${json[@]}" "$at/v1/plan") == '{"question":"plan",'* ]] || die 'no JSON'
    [[ $(ask "${json[@]}" "$at/v1/plan.svg") == '<svg '* ]] || die 'no SVG'
    [[ $(ask "${json[@]}" "$at/v1/plan.png" | od -An -tx1 | sed -n 1p) == ' 89 50 4e 47 0d 0a 1a 0a '* ]] || die 'no PNG'
    # By the same image, whose client looks names up without any library.
    podman "${runtime[@]}" run "${narrow[@]}" --rm --volume "$PWD/examples:/examples:ro" "$image" \
        replay /examples/cases --against "http://localhost:$port"
    echo "memory after it: $(($(status VmRSS | cut -d ' ' -f 1) / 1024)) MiB"

    # A plan that is still on its way when the replica is told to stop, and for longer than it says it is going.
    exec {slow}< <({ head -c 100 "$plan"; sleep 5; tail -c +101 "$plan"; } |
        curl --silent --request POST --upload-file - --header 'content-type: application/json' --header 'expect:' \
            --output /dev/null --write-out '%{http_code}\n' "$at/v1/plan")
    sleep 1
    began=$(milliseconds)
    podman kill --signal TERM "$name" >/dev/null
    until [[ $(readyz) == 503 ]]; do (($(milliseconds) - began < 1500)) || die 'it does not say that it goes'; done
    ask --output /dev/null "$sum"
    read -r answered <&"$slow"
    [[ $answered == 200 ]] || die "what was on its way got $answered"
    code=$(podman wait "$name")
    echo "told to stop: unready at once, answered what was on its way, ended after $(($(milliseconds) - began)) ms with $code"
    [[ $code == 0 ]] || die 'it ended badly'
}

case ${1:-} in
    base) make_base ;;
    build) build "${2:-}" ;;
    try) try ;;
    *) sed -n '2,/^set/{/^set/!s/^# \{0,1\}//p}' "$0"; exit 2 ;;
esac
