#!/bin/bash
# How long the crates take to build, dependencies built before, in the profile
# for development:
#   figure library_build_seconds VALUE s            all crates and the program
#   figure rebuild_after_report_edit_seconds VALUE s   one function of src/report
# Works on a copy in target/build-times; the first run builds dependencies there.
set -euo pipefail
cd "$(dirname "$0")/.."
copy=$PWD/target/build-times/tree
export CARGO_TARGET_DIR=$PWD/target/build-times/target
mkdir -p "$copy"
git ls-files -z | tar --null --files-from - --create | tar --extract --directory "$copy"
cd "$copy"

timed() {
    local from
    from=$(date +%s.%N)
    cargo build --locked --quiet >&2
    awk -v from="$from" -v to="$(date +%s.%N)" -v name="$1" \
        'BEGIN { printf "figure %s %.0f s\n", name, to - from }'
}

cargo build --locked --quiet >&2
# Everything of our own anew: a comment at the end of the first crate, and nothing
# kept of what the compiler made of the others.
rm -rf "$CARGO_TARGET_DIR/debug/incremental"
echo "// Built at $(date +%s%N)." >>src/units/lib.rs
for crate in src/*/lib.rs; do
    touch "$crate"
done
timed library_build_seconds
# Another sentence in one function of the report.
sed -i 's/"Not both on {site}: there/"Not both on {site}; there/' src/report/tables.rs
cmp -s src/report/tables.rs "$OLDPWD/src/report/tables.rs" && { echo "build-times: nothing was changed" >&2; exit 1; }
timed rebuild_after_report_edit_seconds
