#!/usr/bin/env bash
# Brings an installed curewatch to the version of this source, after a backup. When the new version
# does not work the one before is put back.
set -euo pipefail
# shellcheck source-path=SCRIPTDIR source=parts.sh
. "$(dirname "$0")/parts.sh"

usage() {
  cat <<'END'
usage: sudo deploy/upgrade.sh [--dry-run] [--yes] [--back]

  --dry-run   only tell what would be done
  --yes       do not ask
  --back      return to the version before. Where the database has been migrated meanwhile, the
              backup of the upgrade is restored, and what was entered since lies in a file kept
              aside, which is named

Configuration, passwords and the broker's settings stay as they are. The version before is kept, the
ones before that are removed; of the backups of upgrades the newest three are kept.
END
}

back=false
while [ $# -gt 0 ]; do
  case $1 in
    --dry-run) dry_run=true ;;
    --yes) yes=true ;;
    --back) back=true ;;
    -h | --help) usage; exit 0 ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done

walk() {
  if [ "$used" != "$key" ]; then
    version_is_built "$key" ||
      change "install curewatch $(release) beside it, in $PREFIX/versions/$key" build_version "$key"
    change "see that it can read $CONFIG" reads_configuration "$key"
    change "stop the daemon" stop_units
    no_database || change "copy the database to $BACKUPS/before-$key.db" back_up
    change "make it the version in use, and let it migrate the database" switch
  fi
  place_file "$here/config/curewatch.toml" "$SETTINGS/example.toml" 640 curewatch
  place_units
  [ $changes = 0 ] || change "start the daemon" start_or_go_back
  if [ "$used" != "$key" ]; then
    change "remove versions older than $used" remove_older
    change "keep the newest three before-*.db in $BACKUPS" remove_older_copies "$BACKUPS"
  fi
}

reads_configuration() {
  as_daemon "$PREFIX/versions/$1/bin/curewatch" --config "$CONFIG" page address >/dev/null ||
    fail "version $1 cannot take the configuration (see above): mend $CONFIG and try again.
The version in use, $used, was not touched"
}

# Which file the database is stands in the configuration; the version in use reads it. Where it cannot
# be told, a copy is tried, and fails in words.
no_database() {
  "$PREFIX/bin/python" -c 'import sys
from pathlib import Path
from curewatch.settings import load_settings
sys.exit(load_settings(Path(sys.argv[1])).storage.path.exists())' "$CONFIG" 2>/dev/null
}

back_up() {
  as_daemon "$PREFIX/bin/curewatch" --config "$CONFIG" backup "$BACKUPS/before-$key.db" || {
    start_units || say "The daemon does not start either: see journalctl -u curewatch"
    fail "without a backup there is no way back, so nothing was upgraded: see above why there is none.
The version in use, $used, was not touched"
  }
}

switch() {
  use_version "$key"
  printf '%s\n' "$used" >"$PREFIX/before"
  opens "$key" || go_back_and_fail
}

# Looking opens the database and migrates it if need be; no daemon is needed for that.
opens() {
  as_daemon "$PREFIX/versions/$1/bin/curewatch" --config "$CONFIG" --json status >/dev/null
}

start_or_go_back() {
  start_units || {
    [ "$used" != "$key" ] || fail "the daemon does not start: see journalctl -u curewatch"
    go_back_and_fail
  }
}

go_back_and_fail() {
  say "The new version does not work on this machine; its complaint stands above."
  return_to "$used"
  fail "the version before is in use again: $used"
}

return_to() {
  stop_units
  use_version "$1"
  if [ -e "$BACKUPS/before-$key.db" ] && ! opens "$1" 2>/dev/null; then
    as_daemon "$PREFIX/bin/curewatch" --config "$CONFIG" restore --force "$BACKUPS/before-$key.db"
  fi
  start_units
}

remove_older() {
  local place
  for place in "$PREFIX"/versions/*; do
    case $(basename "$place") in
      "$key" | "$used") ;;
      *) rm -rf "$place" ;;
    esac
  done
}

walk_back() {
  change "see that it can read $CONFIG" reads_configuration "$before"
  change "put the version before, $before, in use again" return_to "$before"
}

as_root_or_dry
machine_fits
used=$(version_in_use)
[ -n "$used" ] || fail "curewatch is not installed here: deploy/install.sh"
if $back; then
  before=$(cat "$PREFIX/before" 2>/dev/null) || before=""
  [ -n "$before" ] && [ "$before" != "$used" ] && version_is_built "$before" ||
    fail "there is no version before $used to go back to"
  key=$used
  walk() { walk_back; }
  say "$used is in use. This will:"
else
  key=$(version_key)
  say "$used is in use. This will:"
fi
plan_ask_and_do
say "" "$(version_in_use) is in use."
systemd_runs || say "systemd does not run here: start the daemon by hand."
