# A package as dpkg installs it, into a root of its own; to be sourced. What it depends on is not in
# there: the program finds it in the system's own root. A package for another processor is taken too.
#
#   installed ROOT DEB     installs it; the program is ROOT/usr/bin/trundle
#   removed ROOT           removes it again; false where anything but dpkg's own files stays
dpkg_in() { # ROOT WORD...
    dpkg --root="$1" --force-depends --force-not-root --force-script-chrootless \
        --force-architecture --log=/dev/null "${@:2}" 2>&1
}

installed() {
    mkdir -p "$1/var/lib/dpkg/"{info,updates,triggers}
    : >"$1/var/lib/dpkg/status"
    dpkg_in "$1" --install "$2"
    dpkg_in "$1" --verify trundle
}

removed() {
    local left
    dpkg_in "$1" --purge trundle
    left=$(find "$1" -mindepth 1 -not -type d -not -path "$1/var/lib/dpkg/*")
    [ -z "$left" ] || { echo "removed, and left behind: $left" >&2; return 1; }
}
