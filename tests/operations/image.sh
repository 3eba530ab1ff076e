#!/usr/bin/env bash
# Prove the image without a container engine and without a registry: build it on a base made of Debian packages, run it
# as it is meant to be run, and say what it takes. Needs root, Debian's mmdebstrap, buildah, podman and runc, and a
# package index that pip can reach.
#
#   tests/operations/image.sh [BASE.tar]
#
# BASE.tar: a base made before; kept where it is not there yet, so that a second run is fast.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

work=$(mktemp -d)
base=${1:-$work/base.tar}
port=8247
engine=(--root "$work/storage" --runroot "$work/run" --storage-driver vfs)
container=''
finish() {
  [[ -z $container ]] || podman "${engine[@]}" rm -f "$container" >/dev/null 2>&1 || true
  rm -rf "$work"
}
trap finish EXIT
say() { printf 'image: %s\n' "$*"; }
fail() {
  say "FAILED: $*"
  [[ -z $container ]] || podman "${engine[@]}" logs "$container" 2>&1 | tail -n 20
  exit 1
}

[[ -s $base ]] || mmdebstrap --quiet --variant=minbase --include=python3,python3-venv,ca-certificates bookworm "$base"
podman "${engine[@]}" import --quiet "$base" localhost/base:bookworm >/dev/null

# Wheels of what the lock names, so that the build needs no network and could take nothing else. Debian bookworm has
# Python 3.11 (packages.debian.org/bookworm/python3).
python3 -m pip download --quiet --require-hashes --only-binary=:all: --python-version 3.11 --dest "$work/wheels" \
  -r .ci/build.lock -r service/requirements.lock

start=$SECONDS
buildah "${engine[@]}" build --quiet --isolation chroot --pull-never --layers=false \
  --ignorefile docker/Dockerfile.dockerignore --file docker/Dockerfile \
  --build-arg BASE=localhost/base:bookworm --build-arg PIP_NO_INDEX=1 --build-arg PIP_FIND_LINKS=/wheels \
  --volume "$work/wheels:/wheels:ro" --format docker --tag localhost/feedproof . >"$work/build.log" 2>&1 ||
  { cat "$work/build.log"; exit 1; }
built=$((SECONDS - start))
size() { podman "${engine[@]}" image inspect --format '{{.Size}}' "$1"; }
say "built in $built s; $(($(size localhost/feedproof) / 1000000)) MB, of which the base $(($(size localhost/base:bookworm) / 1000000)) MB"

run=("${engine[@]}" --runtime runc --cgroup-manager=cgroupfs run --detach --network=host --no-healthcheck
  --ulimit=nofile=1024:1024 --ulimit=nproc=4096:4096 --read-only --read-only-tmpfs=false
  --tmpfs '/tmp:size=64m,mode=1777' --cap-drop=ALL --security-opt=no-new-privileges --memory 512m --pids-limit 64
  --env "FEEDPROOF_PORT=$port")

# Reachable from elsewhere without a key: it must refuse to start.
container=$(podman "${run[@]}" localhost/feedproof)
[[ $(podman "${engine[@]}" wait "$container") == 2 ]] || fail "started open to everybody without being told to"
podman "${engine[@]}" rm -f "$container" >/dev/null

begin=$(date +%s.%N)
container=$(podman "${run[@]}" --env FEEDPROOF_ANONYMOUS=true localhost/feedproof)
inside() { podman "${engine[@]}" --runtime runc --cgroup-manager=cgroupfs exec "$container" "$@"; }
for _ in $(seq 300); do
  curl --silent --fail --output /dev/null "http://127.0.0.1:$port/health/ready" && break
  sleep 0.1
done
curl --silent --fail --output /dev/null "http://127.0.0.1:$port/health/ready" || fail "not ready"
ready=$(date +%s.%N)
pid=$(podman "${engine[@]}" inspect --format '{{.State.Pid}}' "$container")

before=$(find "/proc/$pid/root/tmp/compiled" -type f | wc -l)
for request in examples/requests/*.json; do
  curl --silent --fail --output /dev/null --header 'Content-Type: application/json' --data-binary "@$request" \
    "http://127.0.0.1:$port/v1/assessments" || fail "$request"
done
after=$(find "/proc/$pid/root/tmp/compiled" -type f | wc -l)
[[ $before == "$after" ]] || fail "compiled $((after - before)) files anew"
inside feedproof health || fail "the health command"
status() { awk -v name="$1:" '$1 == name { print $2 }' "/proc/$pid/status"; }
[[ $(status Uid) == 10001 ]] || fail "runs as $(status Uid)"
[[ $(status CapEff) == 0000000000000000 ]] || fail "capabilities $(status CapEff)"
[[ $(status NoNewPrivs) == 1 ]] || fail "may gain privileges"
[[ $(status Seccomp) == 2 ]] || fail "no seccomp filter"
! inside sh -c 'echo x >/srv/feedproof/x' 2>/dev/null || fail "the root can be written to"
! inside sh -c 'ls /srv/feedproof/bin/pip* /src' >/dev/null 2>&1 || fail "parts of the build are left"
memory=$(awk '$1 == "VmRSS:" { print int($2 / 1024) }' "/proc/$pid/status")
say "ready after $(printf '%.1f' "$(bc <<<"$ready - $begin")") s, nothing compiled anew, ${memory} MB resident," \
  "uid 10001, no capabilities, read-only root"

begin=$(date +%s.%N)
podman "${engine[@]}" kill --signal TERM "$container" >/dev/null
code=$(podman "${engine[@]}" wait "$container")
[[ $code == 0 ]] || fail "exit status $code after SIGTERM"
say "stopped with status 0 after $(printf '%.1f' "$(bc <<<"$(date +%s.%N) - $begin")") s"
container=''
