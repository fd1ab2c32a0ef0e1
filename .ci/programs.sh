# Where the built programs are, for checks that run them; to be sourced, from the top of the project.
#
# TRUNDLE_BIN: folder of the programs, where they are built already. Without it the whole workspace
# is, since a build of one program alone would take other features and build all anew.
# Gives bin.
bin=${TRUNDLE_BIN:-}
if [ -z "$bin" ]; then
    cargo build --release --workspace --locked
    bin=${CARGO_TARGET_DIR:-target}/release
fi
bin=$(cd "$bin" && pwd)
