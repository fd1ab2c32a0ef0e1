#!/usr/bin/env bash
# The walls of the house: what core and show are built of opens no file, port, socket, database
# or terminal. The standard library's own ways are banned by their `clippy.toml`.
set -euo pipefail
cd "$(dirname "$0")/.."

# Crates that reach the world, by what they open.
world='serialport|mio-serial|rusqlite|libsqlite3-sys|axum|hyper|tokio|tokio-stream|mio|socket2|h2'
world="$world|crossterm|ratatui|ratatui-crossterm|console|indicatif|signal-hook|rustix|nix|termios"
world="$world|etcetera|dirs|home|tempfile|memmap2|walkdir|notify|iana-time-zone|clap|clap_complete"
world="$world|rand|fastrand|trundle|trundle-sim"

# The crates that a package is built of, one a line.
built_of() { cargo tree --locked -e normal -p "$1" --prefix none --format '{p}' | cut -d' ' -f1 | sort -u; }

check() { # $1: package
    found=$(built_of "$1" | grep -Ex "$world" || true)
    if [ -n "$found" ]; then
        printf 'walls: %s is built of what reaches the world:\n%s\n' "$1" "$found" >&2
        return 1
    fi
    printf 'walls: %s is built of %s crates, none of which reaches the world\n' \
        "$1" "$(built_of "$1" | wc -l)"
}

# A check that cannot fail holds nothing: the program does reach the world.
if check trundle 2>/dev/null; then
    echo "walls: the check found nothing in the program itself" >&2
    exit 1
fi
check trundle-core
check trundle-show
