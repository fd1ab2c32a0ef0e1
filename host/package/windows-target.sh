# To be sourced: what it takes to build for 64-bit Windows on Linux. Installs nothing; sets
# windows_cargo and windows_options, and the linker and C compiler, by exporting what cargo reads.
#
# With rustup the target's own standard library is taken. Without it (Debian's rustc), the
# standard library is built from Debian's sources of the same version, which takes longer.

# As host/package/release.sh has them: the same build serves both.
export CONST_RANDOM_SEED=trundle
export SOURCE_DATE_EPOCH="${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}"
windows_target=x86_64-pc-windows-gnu
export CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER=x86_64-w64-mingw32-gcc
export CC_x86_64_pc_windows_gnu=x86_64-w64-mingw32-gcc
export AR_x86_64_pc_windows_gnu=x86_64-w64-mingw32-ar
command -v x86_64-w64-mingw32-gcc >/dev/null ||
    { echo "x86_64-w64-mingw32-gcc is missing (Debian: gcc-mingw-w64-x86-64)" >&2; exit 1; }

# Where the standard library of the target would be, for the compiler that cargo takes.
windows_std() { ls "$(rustc --print sysroot)/lib/rustlib/$windows_target/lib/"libstd-*.rlib; }

windows_cargo=(cargo)
windows_options=(--target "$windows_target")
if ! windows_std >/dev/null 2>&1; then
    # From here on with Debian's compiler, whose sources Debian has.
    [ -x /usr/bin/rustc ] && [ -d "$(/usr/bin/rustc --print sysroot)/lib/rustlib/src/rust/library" ] || {
        echo "no standard library for $windows_target: rustup target add $windows_target," \
            "or Debian's rustc-web and rust-web-src" >&2
        exit 1
    }
    export RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1
    windows_options+=("-Zbuild-std=std,panic_abort")
fi
