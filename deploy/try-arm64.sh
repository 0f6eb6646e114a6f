#!/usr/bin/env bash
# The trial of deploy/try-root.sh on 64-bit ARM, which on another machine runs under qemu-user.
exec "$(dirname "$0")/try-root.sh" --arch arm64 "$@"
