#!/bin/bash
# Mutation testing of src/propagation and src/link: one operator, constant or
# return value after the other is made wrong, and the tests have to notice.
#   tests/mutants.sh [propagation|link|report] [more arguments of cargo mutants]
# Without arguments both folders are measured, in turn. With `--shuffle` a run
# may be stopped after any number of mutants, with `--iterate` the next one goes
# on with those that were not caught; `report` adds up what was measured. Prints
#   figure mutants_caught_percent VALUE percent
# Wants the tool, cargo install --locked cargo-mutants, and the worked examples
# (DEVELOPERS.md).
#
# The whole library takes minutes to build, a mutant has seconds. So each folder
# is laid out in target/mutants/ as a crate of the same name that has only what
# the folder leans on, and its tests as modules of the library: one thing to
# compile and to link. Only tests that need no folder after it count.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo mutants --version >/dev/null 2>&1 || {
    echo "mutants: cargo-mutants is not installed: cargo install --locked cargo-mutants" >&2
    exit 1
}

root=$PWD
out=$root/target/mutants
PERCHLINE_VALIDATION=$(realpath "${PERCHLINE_VALIDATION:-../shared/validation}")
export PERCHLINE_VALIDATION PERCHLINE_REQUIRE_EXAMPLES=1 PROPTEST_RNG_SEED=1

# Takes longer than all others together and says little of a mutant.
slow=(--skip nothing_jumps_where_p1812_takes_over)

# The lines of Cargo.toml for these dependencies.
dependencies() {
    local name
    for name in "$@"; do
        grep -m 1 "^$name = " Cargo.toml
    done
}

# A Cargo.toml: package name, folder, dependencies. Unoptimised, since building
# takes longer than testing; what the tests lean on is built once.
manifest() {
    local name=$1 folder=$2
    shift 2
    cat <<TOML
[package]
name = "$name"
version = "0.1.0"
$(grep '^edition = ' Cargo.toml)
publish = false
autotests = false

[lib]
name = "${name/-/_}"
path = "$folder/lib.rs"
doctest = false

[profile.dev]
opt-level = 0
debug = false
incremental = true

[profile.dev.package."*"]
opt-level = 1

[dependencies]
$(dependencies "$@")
TOML
}

# The head of src/lib.rs: what it says of itself, its lints.
head_of_library() {
    sed '/^pub mod/,$d' src/lib.rs
}

# Module lines for these tests, which call the library by its name.
test_modules() {
    local name
    echo "#[cfg(test)] extern crate self as perchline;"
    for name in "$@"; do
        echo "#[cfg(test)] #[path = \"../tests/$name.rs\"] mod $name;"
    done
}

# What both crates have in common: the tests and their tables.
lay_out() {
    local crate=$out/$1
    mkdir -p "$crate"
    rm -rf "$crate/src" "$crate/tests" "$crate/base"
    mkdir "$crate/src"
    cp -r Cargo.lock tests "$crate"
    cp -r "src/$1" "$crate/src"
    # What runs the program stays behind.
    sed -i -e '/^pub mod/d' -e 's/env!("CARGO_BIN_EXE_perchline")/"perchline"/' \
        "$crate/tests/support/mod.rs"
    # Properties are tried on fewer cases, always the same: a mutant that only
    # the hundredth case would notice counts as missed.
    sed -i 's/cases: [0-9]\+, failure/cases: 64, failure/' "$crate"/tests/propagation_*.rs
}

lay_out_propagation() {
    local crate=$out/propagation
    lay_out propagation
    cp -r src/units src/profile "$crate/src"
    {
        manifest perchline src geo serde statrs thiserror
        echo "[dev-dependencies]"
        dependencies approx csv proptest
        echo "[workspace]"
    } >"$crate/Cargo.toml"
    {
        head_of_library
        printf 'pub mod %s;\n' profile propagation units
        test_modules propagation_knife_edge propagation_methods propagation_p526 \
            propagation_p1812 propagation_p1812_coast propagation_pycraf propagation_short_range
    } >"$crate/src/lib.rs"
}

lay_out_link() {
    local crate=$out/link
    local before="units vector plan profile terrain propagation" part
    lay_out link
    # What comes before link is a crate of its own, built once.
    mkdir "$crate/base"
    for part in $before; do
        cp -r "src/$part" "$crate/base"
    done
    # Parts of one crate there, of two here.
    find "$crate/base" -name '*.rs' -exec sed -i 's/pub(crate) /pub /' {} +
    mkdir -p "$crate/before"
    manifest perchline-base ../base contour gdal gdal-sys geo geoconvert image jiff maidenhead \
        ndarray nalgebra pmtiles rayon schemars serde serde_json sha2 statrs strsim tempfile \
        thiserror tokio toml | sed '/^\[profile/,/^$/d' >"$crate/before/Cargo.toml"
    printf 'pub mod %s;\n' $before >"$crate/base/lib.rs"
    {
        manifest perchline src owens-t serde statrs thiserror
        echo 'perchline-base = { path = "before" }'
        echo "[dev-dependencies]"
        dependencies approx csv gdal serde_json tempfile
        echo "[workspace]"
    } >"$crate/Cargo.toml"
    {
        head_of_library
        echo "pub use perchline_base::{${before// /, }};"
        echo "pub mod link;"
        test_modules both_ways comparison link_model two_way_budget terminals woods
    } >"$crate/src/lib.rs"
}

# The tool on the crate of a folder.
mutants() {
    local folder=$1
    shift
    nice cargo mutants --dir "$out/$folder" --config "$root/.cargo/mutants.toml" \
        --file "src/$folder/**" --colors never "$@"
}

# Tests the mutants of a folder, or those that the further arguments ask for,
# and writes what came of each into outcomes.txt: a word, a tab, the mutant.
measure() {
    local folder=$1 crate=$out/$1 failed=0 outcome
    shift
    echo "== $folder: laying out, then a mutant after the other" >&2
    "lay_out_$folder"
    [ $# -gt 0 ] || rm -f "$crate/outcomes.txt"
    mutants "$folder" --list >"$crate/all.txt"
    # Lints are no tests. 2: some were missed, 3: some ran out of time.
    mutants "$folder" --in-place --output "$crate" --cap-lints true --jobserver-tasks 1 \
        --timeout 20 --build-timeout 120 "$@" -- --lib -- "${slow[@]}" >&2 || failed=$?
    # What was tried before it was stopped counts.
    for outcome in caught timeout missed unviable; do
        sed "s/^/$outcome\t/" "$crate/mutants.out/$outcome.txt"
    done >>"$crate/outcomes.txt"
    case $failed in 0 | 2 | 3) ;; *) echo "mutants: stopped with $failed" >&2 ;; esac
}

# Adds up the last outcome of each mutant, and says what is still missed.
report() {
    local folder
    for folder in propagation link; do
        [ -e "$out/$folder/outcomes.txt" ] || continue
        awk -F '\t' '{ last[$2] = $1 } END { for (m in last) print last[m] "\t" m }' \
            "$out/$folder/outcomes.txt" | sort >"$out/$folder/last.txt"
        # Only mutants of the code as it stands.
        awk -F '\t' 'NR == FNR { stands[$0]; next } $2 in stands { n[$1]++; print >"/dev/stderr" }
            END { print "'"$folder"'", length(stands), n["caught"] + 0, n["timeout"] + 0,
                n["missed"] + 0, n["unviable"] + 0 }' "$out/$folder/all.txt" "$out/$folder/last.txt" \
            2> >(grep '^missed' >"$out/$folder/missed.txt" || true)
    done | awk '
        function line(name, all, caught, timeout, missed, unviable,    n, p, z, half, middle) {
            n = caught + timeout + missed
            if (!n) { print name ": none tried"; return 0 }
            p = (caught + timeout) / n
            z = 1.959964
            middle = (p + z * z / (2 * n)) / (1 + z * z / n)
            half = z / (1 + z * z / n) * sqrt(p * (1 - p) / n + z * z / (4 * n * n))
            printf "%s: %d of %d mutants tried, %d unviable; of %d viable %d caught, %d out of time, %d missed: %.1f %% (95 %% interval %.1f to %.1f)\n",
                name, n + unviable, all, unviable, n, caught, timeout, missed,
                100 * p, 100 * (middle - half), 100 * (middle + half)
            return 100 * p
        }
        { line($1, $2, $3, $4, $5, $6); for (i = 2; i <= 6; i++) sum[i] += $i }
        END {
            if (!NR) { print "mutants: nothing was measured yet" >"/dev/stderr"; exit 1 }
            share = line("together", sum[2], sum[3], sum[4], sum[5], sum[6])
            printf "figure mutants_caught_percent %.1f percent\n", share
        }'
    cat "$out"/*/missed.txt >&2
}

case ${1-} in
    "") measure propagation && measure link && report ;;
    propagation | link) measure "$@" && report ;;
    report) report ;;
    *) sed -n '2,/^#$/s/^# \?//p' "$0" >&2 && exit 2 ;;
esac
