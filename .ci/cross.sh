# To be sourced, from the top of the project: the compiler for another system, for a check.

# Sets what host/package/cross-target.sh sets. Its standard library: rustup's, since the compiler then
# stays the same and nothing of the library is built; else Debian's sources of it. One at a time.
cross_for() { # TARGET
    (
        flock 9
        rustup target add "$1" || [ -d /usr/lib/rustlib/src/rust/library ] ||
            bash .ci/install.sh --no-install-recommends rustc-web rust-web-src
    ) 9>"${TMPDIR:-/tmp}/trundle-checks-rustup.lock"
    # shellcheck source=host/package/cross-target.sh
    . host/package/cross-target.sh "$1"
}
