#!/usr/bin/env bash
# Installs curewatch as a service on Debian 12 or 13, or 64-bit Raspberry Pi OS. Run again it changes
# nothing that is there.
set -euo pipefail
# shellcheck source-path=SCRIPTDIR source=parts.sh
. "$(dirname "$0")/parts.sh"

usage() {
  cat <<'END'
usage: sudo deploy/install.sh [--dry-run] [--yes] [--lan | --address ADDRESS] [--no-broker]

Installs the daemon, its units, a nightly backup and, where there is none, an MQTT broker. It tells
what it will do and asks once.

  --dry-run          only tell what would be done
  --yes              do not ask
  --lan              sensors and telephones reach this machine over the shop's network
  --address ADDRESS  the same, where this machine has more than one address
  --no-broker        there is a broker already, here or elsewhere: leave it alone

Without --lan broker and page answer this machine alone. What exists is never overwritten: the
configuration, passwords, the access list, the database.
END
}

address=""
lan=false
broker=true
while [ $# -gt 0 ]; do
  case $1 in
    --dry-run) dry_run=true ;;
    --yes) yes=true ;;
    --lan) lan=true ;;
    --address) lan=true address=${2:?--address needs an address}; shift ;;
    --no-broker) broker=false ;;
    -h | --help) usage; exit 0 ;;
    *) usage >&2; exit 2 ;;
  esac
  shift
done

walk() {
  packages
  account
  program
  folders
  configuration
  ! $broker || broker_settings
  units
}

packages() {
  local need=()
  if [ ! -x "$PYTHON" ]; then
    need+=(python3 python3-venv)
  elif ! "$PYTHON" -c 'import venv, ensurepip' 2>/dev/null; then
    need+=(python3-venv)
  fi
  [ -e /usr/share/zoneinfo ] || need+=(tzdata)
  if $broker && [ ! -x /usr/sbin/mosquitto ]; then
    need+=(mosquitto)
  fi
  [ ${#need[@]} = 0 ] || change "install ${need[*]} with apt-get" apt_install "${need[@]}"
}

apt_install() {
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

account() {
  getent group curewatch >/dev/null || change "make the group curewatch" groupadd --system curewatch
  getent passwd curewatch >/dev/null || change "make the user curewatch, who cannot log in" \
    useradd --system --gid curewatch --no-create-home --home-dir /nonexistent \
    --shell /usr/sbin/nologin curewatch
}

program() {
  version_is_built "$key" ||
    change "install curewatch $(release) and its libraries into $PREFIX (some 350 MB)" \
      build_version "$key"
  [ "$(version_in_use)" = "$key" ] || change "make it the version in use" use_version "$key"
  [ "$(readlink "$COMMAND" 2>/dev/null)" = "$PREFIX/bin/curewatch" ] ||
    change "link $COMMAND to it" ln -sfn "$PREFIX/bin/curewatch" "$COMMAND"
}

folders() {
  [ -d "$DATA" ] || change "make $DATA for the database" \
    install -d -m 2770 -o curewatch -g curewatch "$DATA"
  [ -d "$BACKUPS" ] || change "make $BACKUPS for backups" \
    install -d -m 2770 -o curewatch -g curewatch "$BACKUPS"
  [ -d "$SETTINGS" ] || change "make $SETTINGS" install -d -m 750 -g curewatch "$SETTINGS"
}

configuration() {
  [ -e "$CONFIG" ] || change "write a first configuration, $CONFIG" first_configuration
  place_file "$here/config/curewatch.toml" "$SETTINGS/example.toml" 640 curewatch
}

first_configuration() {
  local zone edits=()
  zone=$(readlink -f /etc/localtime | sed -n 's|^/usr/share/zoneinfo/||p')
  edits+=(-e "s|^timezone = .*|timezone = \"${zone:-UTC}\"|")
  ! $lan || edits+=(-e '/^\[page\]/,$ s|^host = .*|host = "0.0.0.0"|')
  ! $broker || edits+=(-e 's/^# \(username\|password_file\) = /\1 = /')
  sed "${edits[@]}" "$here/config/first.toml" | install -m 640 -g curewatch /dev/stdin "$CONFIG"
}

# A broker somebody has set up is not ours to change: two settings of one listener would stop it.
broker_settings() {
  local theirs
  if [ ! -e "$BROKER/conf.d/curewatch.conf" ]; then
    theirs=$(grep -lE '^[[:space:]]*(listener|port|allow_anonymous|password_file|acl_file)\b' \
      "$BROKER/mosquitto.conf" "$BROKER"/conf.d/*.conf 2>/dev/null) || true
    [ -z "$theirs" ] || fail "the MQTT broker here has settings of its own in
$theirs
They are left alone. Give --no-broker, take over what $here/deploy/mosquitto/curewatch.conf
says, and put the daemon's name and password into $CONFIG."
    change "let the broker listen on ${address:-this machine alone}, with passwords and limits" \
      broker_conf
    broker_changed=true
  fi
  if $lan; then
    place_file "$here/deploy/mosquitto/wait-for-network.conf" \
      "$UNITS/mosquitto.service.d/curewatch.conf" 644
  fi
  if [ ! -e "$BROKER/curewatch.acl" ]; then
    change "write $BROKER/curewatch.acl: who may read and write what" \
      install -m 640 -o mosquitto -g mosquitto "$here/deploy/mosquitto/curewatch.acl" "$BROKER/curewatch.acl"
  fi
  if [ ! -e "$BROKER/curewatch.passwd" ]; then
    change "make passwords for the daemon and for sensors, kept in $SETTINGS" broker_passwords
  fi
  if $broker_changed && systemd_runs; then
    change "restart the broker" restart_broker
  fi
}

restart_broker() {
  systemctl daemon-reload
  systemctl restart mosquitto.service
}

broker_conf() {
  local edit=()
  [ -z "$address" ] || edit=(-e "s|^# listener 1883 .*|listener 1883 $address|")
  sed "${edit[@]}" -e '' "$here/deploy/mosquitto/curewatch.conf" |
    install -m 644 /dev/stdin "$BROKER/conf.d/curewatch.conf"
}

# mosquitto_passwd takes the word as an argument with -b; from a file (-U) nobody can see it.
broker_passwords() {
  local passwords=$BROKER/curewatch.passwd who word kept
  install -m 600 /dev/null "$passwords.part"
  for who in curewatch sensors; do
    kept=$SETTINGS/broker-password
    [ $who = curewatch ] || kept=$SETTINGS/sensors-password
    if [ ! -s "$kept" ]; then
      "$PYTHON" -c 'import secrets; print(secrets.token_urlsafe(15))' |
        install -m 640 -g curewatch /dev/stdin "$kept"
    fi
    word=$(head -n 1 "$kept")
    printf '%s:%s\n' "$who" "$word" >>"$passwords.part"
  done
  mosquitto_passwd -U "$passwords.part"
  chown mosquitto: "$passwords.part"
  mv "$passwords.part" "$passwords"
  sensors_word=$word
}

units() {
  local before=$changes
  place_units
  if ! starts_at_boot || [ "$changes" != "$before" ]; then
    change "start curewatch now, at every boot, and its backup every night" start_units
  fi
}

starts_at_boot() {
  [ -e "$UNITS/multi-user.target.wants/curewatch.service" ] || ! command -v systemctl >/dev/null
}

find_address() {
  [ -z "$address" ] || return 0
  address=$(hostname -I 2>/dev/null | tr ' ' '\n' | grep -m 1 '\.') ||
    fail "this machine has no address in a network yet: join one, or name it with --address"
}

next_steps() {
  local url
  say "" "curewatch $(release) is installed."
  if [ -n "$sensors_word" ]; then
    say "" "Sensors log in at the broker as 'sensors' with the password    $sensors_word" \
      "(shown once; it is kept in $SETTINGS/sensors-password) and publish below shop/."
  fi
  if $lan && $broker; then
    if grep -qsxF "listener 1883 $address" "$BROKER/conf.d/curewatch.conf"; then
      say "Sensors find the broker at $address, port 1883. Let the router give this machine that" \
        "address for good, or the broker cannot start with another."
    else
      say "Mind: $BROKER/conf.d/curewatch.conf was there and has no 'listener 1883 $address'." \
        "Add that line and restart mosquitto, then sensors can reach it."
    fi
  fi
  url=$(page_url)
  if $lan && [ -n "$url" ]; then
    say "" "The page for telephones in the shop's network: $url"
    "$PREFIX/bin/segno" --compact "$url" || true
  elif [ -n "$url" ]; then
    say "" "The page: $url (this machine alone; in $CONFIG, [page] host opens it)"
  fi
  say "" "Next:" \
    "  1. name your rooms and sensors:    sudoedit $CONFIG" \
    "  2. set the page's passphrase:      sudo -u curewatch curewatch page passphrase" \
    "  3. let yourself use the commands:  sudo adduser YOU curewatch    (then log in anew)" \
    "  4. start with what you wrote:      sudo systemctl restart curewatch" \
    "  5. see that all is well:           sudo -u curewatch curewatch doctor"
  systemd_runs || say "" "systemd does not run here, so nothing was started. By hand:" \
    "  runuser -u curewatch -- $PREFIX/bin/curewatch run --config $CONFIG"
}

page_url() {
  local port
  port=$(as_daemon "$PREFIX/bin/curewatch" --config "$CONFIG" --json page address |
    "$PYTHON" -c 'import json, sys; page = json.load(sys.stdin); print(page["port"] if page["serve"] else "")') ||
    return 0
  [ -z "$port" ] || printf 'http://%s:%s/' "${address:-localhost}" "$port"
}

as_root_or_dry
machine_fits
! $lan || find_address
key=$(version_key)
used=$(version_in_use)
[ -z "$used" ] || [ "$used" = "$key" ] ||
  fail "another version is installed ($used): deploy/upgrade.sh brings this one, after a backup"
broker_changed=false
sensors_word=""
say "On this machine ($(machine_in_words)) this will:"
plan_ask_and_do
next_steps
