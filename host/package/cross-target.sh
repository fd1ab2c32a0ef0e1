# To be sourced, with the name of a target: what it takes to build for another system on Linux.
# Installs nothing; sets cross_target, cross_tools (what the names of its tools begin with) and
# cross_options, and the linker and C compiler, by exporting what cargo reads. So in a shell of its
# own, where anything for this computer is built afterwards.
#
#   . host/package/cross-target.sh x86_64-pc-windows-gnu          64-bit Windows
#   . host/package/cross-target.sh aarch64-unknown-linux-gnu      Linux on 64-bit ARM
#
# With rustup the target's own standard library is taken: the compiler is then that of this
# computer's build, whose macros and build scripts serve here too. Without it (Debian's rustc), the
# standard library is built from Debian's sources of the same version, which takes longer.

# As host/package/release.sh has them: the same build serves both.
export CONST_RANDOM_SEED=trundle
export SOURCE_DATE_EPOCH="${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}"
cross_target=$1
case $cross_target in
    x86_64-pc-windows-gnu) cross_tools=x86_64-w64-mingw32 cross_package=gcc-mingw-w64-x86-64 ;;
    aarch64-unknown-linux-gnu) cross_tools=aarch64-linux-gnu cross_package=gcc-aarch64-linux-gnu ;;
    *) echo "nothing is built for $cross_target" >&2; exit 1 ;;
esac
command -v "$cross_tools-gcc" >/dev/null ||
    { echo "$cross_tools-gcc is missing (Debian: $cross_package)" >&2; exit 1; }

# Where the standard library of the target would be, for the compiler that cargo takes.
cross_std() { ls "$(rustc --print sysroot)/lib/rustlib/$cross_target/lib/"libstd-*.rlib; }

cross_word=${cross_target//-/_}
export "CARGO_TARGET_${cross_word^^}_LINKER=$cross_tools-gcc"
export "CC_$cross_word=$cross_tools-gcc" "AR_$cross_word=$cross_tools-ar"
cross_options=(--target "$cross_target")
if ! cross_std >/dev/null 2>&1; then
    # From here on with Debian's compiler, whose sources Debian has.
    [ -x /usr/bin/rustc ] && [ -d "$(/usr/bin/rustc --print sysroot)/lib/rustlib/src/rust/library" ] || {
        echo "no standard library for $cross_target: rustup target add $cross_target," \
            "or Debian's rustc-web and rust-web-src" >&2
        exit 1
    }
    export RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1
    cross_options+=("-Zbuild-std=std,panic_abort")
fi
