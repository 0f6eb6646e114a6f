#!/usr/bin/env bash
# A trial by hand, as root: a clean Debian in a folder, the project cloned into it, and in there the
# README's commands, a part of the tests and the install script. What came of it belongs into
# docs/hardware-trials.md, with its date, also what failed.
set -euo pipefail

usage() {
  cat <<'END'
usage: deploy/try-root.sh [--arch arm64] [--suite bookworm] [--root FOLDER] [--tests 'PATH ...']
                          [STEP ...]

  --arch   Debian's name of the architecture; another than this machine's runs under qemu-user
  --suite  bookworm (Python 3.11) or trixie (Python 3.13)
  --root   where the clean root is put (default: /var/tmp/curewatch-SUITE-ARCH); it is kept
  --tests  which tests to run (default: tests/science tests/shop tests/storage)

STEP is any of: root clone demo test install (default: all, in this order).
Needs root, debootstrap and the network; for another architecture also qemu-user-static.
END
}

fail() {
  echo "try-root.sh: $1" >&2
  exit 1
}

own=$(dpkg --print-architecture)
arch=$own
suite=bookworm
root=""
tests="tests/science tests/shop tests/storage"
mirror=${DEBIAN_MIRROR:-} # empty: the one debootstrap knows
steps=()
while [ $# -gt 0 ]; do
  case $1 in
    --arch) arch=$2; shift ;;
    --suite) suite=$2; shift ;;
    --root) root=$2; shift ;;
    --tests) tests=$2; shift ;;
    -h | --help) usage; exit 0 ;;
    root | clone | demo | test | install) steps+=("$1") ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done
[ ${#steps[@]} -gt 0 ] || steps=(root clone demo test install)
root=${root:-/var/tmp/curewatch-$suite-$arch}
here=$(cd "$(dirname "$0")/.." && pwd)
[ "$(id -u)" = 0 ] || fail "a root of its own needs root; run it with sudo"

# Of this machine the root gets the resolver and the certificates, to reach the package registries.
inside() {
  env -i PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LANG=C.UTF-8 \
    PIP_CERT=/etc/ssl/certs/ca-certificates.crt PIP_DEFAULT_TIMEOUT=300 PIP_PROGRESS_BAR=off \
    PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_ROOT_USER_ACTION=ignore DEBIAN_FRONTEND=noninteractive \
    chroot "$root" /bin/bash -euo pipefail -c "$1"
}

emulated() {
  local name=$1 known=/proc/sys/fs/binfmt_misc
  mountpoint -q "$known" || mount -t binfmt_misc binfmt_misc "$known"
  [ ! -e "$known/qemu-$name" ] || return 0
  [ -e "/usr/lib/binfmt.d/qemu-$name.conf" ] ||
    fail "no emulator for $name: apt-get install qemu-user-static"
  cat "/usr/lib/binfmt.d/qemu-$name.conf" >"$known/register"
}

make_root() {
  local foreign=()
  if [ "$arch" != "$own" ]; then
    foreign=(--foreign)
    case $arch in
      arm64) emulated aarch64 ;;
      amd64) emulated x86_64 ;;
      *) fail "no 64-bit architecture that is known here: $arch" ;;
    esac
  fi
  [ ! -e "$root" ] || fail "$root is there already; name another with --root"
  debootstrap --arch="$arch" "${foreign[@]}" --variant=minbase \
    --include=python3,python3-venv,make,git,ca-certificates "$suite" "$root" ${mirror:+"$mirror"}
  [ ${#foreign[@]} = 0 ] || inside "/debootstrap/debootstrap --second-stage"
  cp /etc/resolv.conf "$root/etc/resolv.conf"
  cp /etc/ssl/certs/ca-certificates.crt "$root/etc/ssl/certs/ca-certificates.crt"
}

do_clone() {
  git -C "$here" bundle create -q "$root/srv/curewatch.bundle" HEAD
  # A second time it only takes what has been committed since; the environment made there stays.
  inside "[ ! -e /srv/curewatch ] || git -C /srv/curewatch pull -q /srv/curewatch.bundle HEAD
          [ -e /srv/curewatch ] || git clone -q /srv/curewatch.bundle /srv/curewatch
          git -C /srv/curewatch log -1 --format='commit %h'"
}

do_demo() { inside "cd /srv/curewatch && make demo"; }

# Under emulation a test may well take longer than it is given elsewhere.
do_test() {
  inside "cd /srv/curewatch
          .venv/bin/python -m pytest $tests -q -p no:cacheprovider -o timeout=0"
}

do_install() { inside "cd /srv/curewatch && deploy/install.sh --yes"; }

# What a step prints is kept beside the root; here stands how it ended.
run_step() {
  local began rc word="went well" log="$root.$1.log"
  began=$(date +%s)
  set +e
  (set -e; "$2") >"$log" 2>&1
  rc=$?
  set -e
  [ $rc = 0 ] || word="FAILED ($rc)"
  printf '%-8s %s after %d s (%s)\n' "$1" "$word" $(($(date +%s) - began)) "$log"
  return $rc
}

mounted=""
trap '[ -z "$mounted" ] || umount "$mounted"' EXIT
echo "$(date -u '+%F %H:%M') UTC, $suite on $arch, on a machine with $(nproc) cores ($(uname -m))"
failed=0
for step in "${steps[@]}"; do
  if [ "$step" = root ]; then
    run_step root make_root || exit 1
    continue
  fi
  if [ -z "$mounted" ]; then
    mount -t proc proc "$root/proc"
    mounted="$root/proc"
    # shellcheck disable=SC2016 # to be expanded in there
    inside '. /etc/os-release; echo "$PRETTY_NAME, $(uname -m), $(python3 --version)"'
  fi
  run_step "$step" "do_$step" || failed=1
done
exit $failed
