# shellcheck shell=bash
# What install.sh, upgrade.sh and uninstall.sh share: where things lie, the one question they ask, and
# how a version gets its place. A version is a virtual environment of its own in
# /opt/curewatch/versions; /opt/curewatch/now points to the one in use, so changing it is one step.
# shellcheck disable=SC2034 # used by those that read this file

PREFIX=/opt/curewatch
SETTINGS=/etc/curewatch
CONFIG=$SETTINGS/curewatch.toml
DATA=/var/lib/curewatch
BACKUPS=/var/lib/curewatch-backups
UNITS=/etc/systemd/system
BROKER=/etc/mosquitto
COMMAND=/usr/local/bin/curewatch
UNIT_NAMES="curewatch.service curewatch-backup.service curewatch-backup.timer"
PYTHON=${PYTHON:-/usr/bin/python3}
here=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
self=$(basename "$0")
umask 022
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_ROOT_USER_ACTION=ignore

planning=true
dry_run=false
yes=false
changes=0

fail() {
  echo "$self: $1" >&2
  exit 1
}

say() { printf '%s\n' "$@"; }

# change WORDS COMMAND...: while planning, tell WORDS; afterwards tell them and run the command.
change() {
  changes=$((changes + 1))
  echo "  - $1"
  $planning || "${@:2}"
}

# What `walk` would change is told first; it is done when the answer is yes.
plan_ask_and_do() {
  walk
  if [ $changes = 0 ]; then
    say "  nothing: all of it is there"
    return 0
  fi
  if $dry_run; then
    say "" "Nothing was changed (--dry-run)."
    exit 0
  fi
  if ! $yes; then
    [ -t 0 ] || fail "there is no terminal to ask on: look at --dry-run, then give --yes"
    read -r -p "Go on? [y/N] " answer
    case $answer in
      y | Y | yes) ;;
      *) fail "stopped; nothing was changed" ;;
    esac
  fi
  say "" "Doing it:"
  planning=false
  changes=0
  walk
}

# Copies made before upgrades: the newest three stay, for the way back.
remove_older_copies() {
  find "$1" -maxdepth 1 -type f -name 'before-*.db' -printf '%T@ %p\0' | sort -z -r -n |
    tail -z -n +4 | cut -z -d ' ' -f 2- | xargs -0 -r rm -f --
}

as_root_or_dry() {
  [ "$(id -u)" = 0 ] || $dry_run || fail "this needs root: sudo deploy/$self"
}

# --- the machine --------------------------------------------------------------------------------

systemd_runs() { [ -d /run/systemd/system ]; }

machine_fits() {
  local architecture
  command -v apt-get >/dev/null && command -v dpkg >/dev/null ||
    fail "this is for Debian and Raspberry Pi OS; elsewhere follow deploy/README.md by hand"
  architecture=$(dpkg --print-architecture)
  case $architecture in
    amd64 | arm64) ;;
    armhf | armel | i386)
      fail "this system is a 32-bit one ($architecture), for which the libraries do not exist. A
Raspberry Pi 3 or later runs the 64-bit edition of Raspberry Pi OS: write that to the card." ;;
    *) say "Mind: nobody has tried this on $architecture; 64-bit ARM and x86 have been." ;;
  esac
  [ -x "$PYTHON" ] || return 0
  "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' ||
    fail "curewatch needs Python 3.11 or newer and $PYTHON is $(python_version). Debian 12,
Raspberry Pi OS of 2023 and later ones have it; elsewhere name one: PYTHON=/path/to/python3.11"
}

python_version() { "$PYTHON" -c 'import platform; print(platform.python_version())'; }

machine_in_words() {
  # shellcheck source=/dev/null
  (. /etc/os-release && printf '%s' "$PRETTY_NAME")
  printf ', %s' "$(dpkg --print-architecture)"
  [ ! -x "$PYTHON" ] || printf ', Python %s' "$(python_version)"
}

# --- versions -----------------------------------------------------------------------------------

release() { sed -n 's/^version = "\(.*\)"$/\1/p' "$here/pyproject.toml"; }

# Names this source under this Python: the release, and a digest of all that is installed.
version_key() {
  local digest
  digest=$(
    cd "$here" || exit
    {
      "$PYTHON" -c 'import sys; print(sys.version_info[:2])' 2>/dev/null || echo none
      cat deploy/requirements.txt pyproject.toml
      find curewatch deploy config -type f ! -path '*/__pycache__/*' -print0 |
        sort -z | xargs -0 sha256sum
    } | sha256sum | cut -c1-10
  )
  printf '%s-%s' "$(release)" "$digest"
}

version_in_use() {
  local place
  place=$(readlink "$PREFIX/now" 2>/dev/null) || return 0
  basename "$place"
}

# Installs this source beside the others; what a broken attempt left is removed first.
build_version() {
  local place=$PREFIX/versions/$1
  rm -rf "$place"
  install -d -m 755 "$PREFIX" "$PREFIX/versions"
  "$PYTHON" -m venv "$place"
  "$place/bin/pip" install --quiet --no-deps --require-hashes -r "$here/deploy/requirements.txt"
  "$place/bin/pip" install --quiet --no-deps --no-build-isolation --no-index "$here"
  "$place/bin/pip" check --quiet
  cp -r "$here/deploy" "$here/config" "$here/pyproject.toml" "$place/"
  touch "$place/.ready"
}

version_is_built() { [ -e "$PREFIX/versions/$1/.ready" ]; }

# Makes a version the one in use, in one step; the other links never change.
use_version() {
  local name
  ln -sfn "versions/$1" "$PREFIX/.next"
  mv -T "$PREFIX/.next" "$PREFIX/now"
  for name in bin lib pyvenv.cfg deploy; do
    ln -sfn "now/$name" "$PREFIX/$name"
  done
}

as_daemon() { runuser -u curewatch -- "$@"; }

# --- files --------------------------------------------------------------------------------------

# place_file FROM TO MODE [GROUP]: a file that is ours; it is written anew when it differs.
place_file() {
  cmp -s "$1" "$2" && return 0
  change "write $2" install -D -m "$3" -g "${4:-root}" "$1" "$2"
}

place_units() {
  local unit
  for unit in $UNIT_NAMES; do
    place_file "$here/deploy/$unit" "$UNITS/$unit" 644
  done
}

# Not every caller ends at a fault: upgrade.sh goes back to the version before.
start_units() {
  command -v systemctl >/dev/null || return 0
  systemctl enable --quiet curewatch.service curewatch-backup.timer || return
  systemd_runs || return 0
  systemctl daemon-reload || return
  systemctl start curewatch-backup.timer || return
  systemctl restart curewatch.service
}

stop_units() {
  systemd_runs || return 0
  systemctl stop curewatch.service curewatch-backup.timer
}
