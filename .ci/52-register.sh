#!/usr/bin/env bash
# Rigs and records: kill -9 while signing off, lists among many records, random damage, and the
# register read by SQLite's own program.
set -euo pipefail
cd "$(dirname "$0")/.."

build=${CARGO_TARGET_DIR:-target}
command -v sqlite3 >/dev/null || bash .ci/install.sh sqlite3
command -v zstd >/dev/null || bash .ci/install.sh zstd
cargo build --release --workspace --locked
trundle=$build/release/trundle
capture=logs/simulated-rtk.capture

"$build/release/sign-kill" "$trundle" "$capture" 300 "${SEED:-1}"
"$build/release/register-bench" "$trundle" "$capture"
"$build/release/damage" "$trundle" "$capture" 200 "${SEED:-1}"

folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
export TRUNDLE_DATA=$folder/data
"$trundle" tractor add "Big one" --make "Own build" >/dev/null
"$trundle" rig add "Big one, wide" --tractor "Big one" >/dev/null
"$trundle" rig add "Second" >/dev/null
"$trundle" sign "$capture" --surface gravel >/dev/null
"$trundle" backup "$folder/all.backup"
for file in "$TRUNDLE_DATA/register.db" "$folder/all.backup"; do
    [ "$(sqlite3 "$file" 'PRAGMA integrity_check')" = ok ]
    [ -z "$(sqlite3 "$file" 'PRAGMA foreign_key_check')" ]
    loose=$(sqlite3 "$file" "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%' AND NOT strict")
    [ "$loose" = 0 ] || { echo "$file: $loose tables are not STRICT" >&2; exit 1; }
done
# The record as SQLite's program gives it is the record as ours gives it.
id=$(sqlite3 "$TRUNDLE_DATA/register.db" "SELECT id FROM record")
cmp <(sqlite3 "$TRUNDLE_DATA/register.db" "SELECT json FROM record") \
    <("$trundle" record show "$id" --json)
sqlite3 "$folder/all.backup" "SELECT writefile('$folder/capture', bytes) FROM capture" >/dev/null
# It lies there packed: the format's own program, which knows nothing of our heads, gives it back.
zstd --quiet --decompress --stdout <"$folder/capture" | cmp - "$capture"
"$trundle" unpack "$folder/capture" >/dev/null
cmp "$folder/capture" "$capture"
for sql in "INSERT INTO active_rig SELECT 2, id FROM rig WHERE name = 'Second'" \
    "INSERT INTO active_rig SELECT 1, id FROM rig WHERE name = 'Second'" \
    "DELETE FROM record" "UPDATE record SET to_enter = 1"; do
    if sqlite3 "$TRUNDLE_DATA/register.db" "PRAGMA foreign_keys = ON; $sql" 2>/dev/null; then
        echo "SQLite took: $sql" >&2
        exit 1
    fi
done
echo "sqlite3 reads register and backup, and is refused what may not be done"
