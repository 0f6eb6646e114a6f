#!/bin/sh
# A copy of the database under a dated name, checked, and only the newest BACKUP_KEEP of them kept.
# Older ones go after the new one has been checked: a night that fails costs no copy.
set -eu
folder=${BACKUP_FOLDER:-/var/lib/curewatch-backups}
keep=${BACKUP_KEEP:-7}
command=${BACKUP_COMMAND:-/opt/curewatch/bin/curewatch}
config=${BACKUP_CONFIG:-/etc/curewatch/curewatch.toml}

case $keep in
  '' | *[!0-9]* | 0*)
    echo "backup.sh: BACKUP_KEEP is '$keep'; it must be a whole number from 1" >&2
    exit 2
    ;;
esac
# The copy gets its name only after SQLite's own quick_check has found it whole.
"$command" --config "$config" backup "$folder/curewatch-$(date -u +%Y%m%dT%H%M%SZ).db"
# Names of ours sort by their dates; files with other names are left alone.
dated='curewatch-[0-9][0-9][0-9][0-9][0-9][0-9][0-9][0-9]T[0-9][0-9][0-9][0-9][0-9][0-9]Z.db'
find "$folder" -maxdepth 1 -type f -name "$dated" | sort -r | tail -n "+$((keep + 1))" |
  while IFS= read -r old; do
    rm -- "$old"
    echo "removed $old: $keep newer ones are kept"
  done
