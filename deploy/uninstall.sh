#!/usr/bin/env bash
# Takes curewatch off this machine. What people entered and what was measured stays, unless told.
set -euo pipefail
# shellcheck source-path=SCRIPTDIR source=parts.sh
. "$(dirname "$0")/parts.sh"

usage() {
  cat <<'END'
usage: sudo deploy/uninstall.sh [--dry-run] [--yes] [--and-data]

  --dry-run    only tell what would be done
  --yes        do not ask
  --and-data   remove the database, its backups, the configuration and the passwords as well: they
               cannot be brought back

The MQTT broker stays installed; its settings of curewatch go, so it answers this machine alone.
END
}

and_data=false
while [ $# -gt 0 ]; do
  case $1 in
    --dry-run) dry_run=true ;;
    --yes) yes=true ;;
    --and-data) and_data=true ;;
    -h | --help) usage; exit 0 ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done

walk() {
  local before
  units
  before=$changes
  gone "$BROKER/conf.d/curewatch.conf"
  gone "$UNITS/mosquitto.service.d/curewatch.conf"
  [ "$changes" = "$before" ] || ! broker_is_a_service ||
    change "restart the broker with its own settings" restart_broker
  gone "$COMMAND"
  gone "$PREFIX"
  ! $and_data || data
}

units() {
  local unit there=false
  for unit in $UNIT_NAMES; do
    [ ! -e "$UNITS/$unit" ] || there=true
  done
  ! $there || change "stop the daemon and its backup" stop_and_disable
  for unit in $UNIT_NAMES; do
    gone "$UNITS/$unit"
  done
  gone /var/lib/systemd/timers/stamp-curewatch-backup.timer
}

stop_and_disable() {
  stop_units
  command -v systemctl >/dev/null || return 0
  systemctl disable --quiet curewatch.service curewatch-backup.timer
}

broker_is_a_service() { systemd_runs && [ -x /usr/sbin/mosquitto ]; }

restart_broker() {
  systemctl daemon-reload
  systemctl restart mosquitto.service
}

gone() {
  [ ! -e "$1" ] && [ ! -L "$1" ] || change "remove $1" rm -rf -- "$1"
}

data() {
  gone "$DATA"
  gone "$BACKUPS"
  gone "$SETTINGS"
  gone "$BROKER/curewatch.acl"
  gone "$BROKER/curewatch.passwd"
  ! getent passwd curewatch >/dev/null || change "remove the user curewatch" userdel curewatch
  ! getent group curewatch >/dev/null || change "remove the group curewatch" groupdel curewatch
}

# This script may lie in what it removes: all of it is read before it begins.
main() {
  as_root_or_dry
  say "This will:"
  plan_ask_and_do
  say "" "curewatch is gone from this machine."
  $and_data || say "Kept: $DATA, $BACKUPS, $SETTINGS and the broker's passwords." \
    "deploy/install.sh takes them up again."
  exit 0
}
main
