#!/bin/sh
# Calls a person to the shop by a lamp or a siren of your own: follows the alerts that stand, and
# whether the daemon is there to raise any. It needs mosquitto_sub (Debian: mosquitto-clients).
#
#     SITE=yard HOST=127.0.0.1 sh docs/examples/lamp.sh
#
# A name and password, and TLS, go into ~/.config/mosquitto_sub. Put what switches your lamp into
# 'show'. It calls people; it must never switch heating, fans, compressors or guns.

site=${SITE:?say which site: SITE=yard}

show() { # red: now; amber: today, or a note; off: nothing waits; fault: nobody watches
    echo "$1"
}

follow() {
    call='' presence='' shown=''
    while read -r topic message; do
        case $topic:$message in
        */alerts:*'"call":"now"'*) call=red ;;
        */alerts:*'"call":"today"'* | */alerts:*'"call":"note"'*) call=amber ;;
        */alerts:*'"call":"quiet"'*) call=off ;;
        */daemon:*'"running"'*) presence=running ;;
        */daemon:*) presence=gone ;;
        esac
        # Nobody watching is a fault, and never 'all is well'.
        now=fault
        if [ "$presence" = running ] && [ -n "$call" ]; then now=$call; fi
        if [ "$now" != "$shown" ]; then show "$now"; fi
        shown=$now
    done
}

# Asked anew every minute, so that a broker that is away is noticed: mosquitto_sub itself would wait.
while :; do
    timeout "${EVERY:-60}" mosquitto_sub -h "${HOST:-127.0.0.1}" -p "${PORT:-1883}" -q 1 \
        -F '%t %p' -t "curewatch/$site/alerts" -t "curewatch/$site/daemon"
    if [ $? -ne 124 ]; then # its time is not over: it could not connect
        echo 'broker/daemon gone'
        sleep 2
    fi
done | follow
