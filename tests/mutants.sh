#!/bin/bash
# Mutation testing of src/propagation and src/link, and of the readers' limits in
# src/confine, src/vector and src/terrain: one operator, constant or return value
# after the other is made wrong, and the tests have to notice.
#   tests/mutants.sh [propagation|link|confine|vector|terrain|report] [more arguments of cargo mutants]
# Without arguments all folders are measured, in turn. With `--shuffle` a run
# may be stopped after any number of mutants, with `--iterate` the next one goes
# on with those that were not caught; `report` adds up what was measured. Prints
#   figure mutants_caught_percent VALUE percent
# Wants the tool: cargo install --locked cargo-mutants
#
# A mutant has seconds. So each folder is laid out in target/mutants/ with only
# the crates that it leans on, its own tests and little optimised. Only tests
# that need no folder after it count.
set -euo pipefail
cd "$(dirname "$0")/.."

cargo mutants --version >/dev/null 2>&1 || {
    echo "mutants: cargo-mutants is not installed: cargo install --locked cargo-mutants" >&2
    exit 1
}

root=$PWD
out=$root/target/mutants
export PROPTEST_RNG_SEED=1

# Takes longer than all others together and says little of a mutant.
slow=(--skip nothing_jumps_where_p1812_takes_over)

# The folders of src in their order, as far as the one named.
as_far_as() {
    sed -nE 's|^    "src/([a-z]+)",$|\1|p' Cargo.toml | sed "/^$1\$/q"
}

# The files of a folder whose mutants are made.
files_of() {
    case $1 in
        propagation | link) echo "src/$1/**" ;;
        # What bounds and refuses; the rest of these folders is not measured, and
        # what the kernel keeps is tried by whole programs in tests/trust.
        confine) echo src/confine/{plain,markup,coordinates,database,reading}.rs ;;
        vector) echo src/vector/{sound,footprint,shape}.rs ;;
        terrain) echo src/terrain/{raster_file,virtual_raster,ascii_grid}.rs ;;
    esac
}

# The workspace with the crates as far as a folder, and that folder's tests.
lay_out() {
    local folder=$1 crate=$out/$1 part crates level
    crates=$(as_far_as "$folder")
    mkdir -p "$crate"
    rm -rf "$crate/src" "$crate/tests"
    mkdir "$crate/src" "$crate/tests"
    cp Cargo.lock "$crate"
    cp -r .cargo "$crate"
    for part in $crates; do
        cp -r "src/$part" "$crate/src"
    done
    cp -r tests/support tests/reference tests/plans "$crate/tests"
    # Sections of the manifest: no program, examples, benches and profiles; of
    # our own crates only those that were copied.
    awk -v crates="$(tr '\n' ' ' <<<"$crates")" '
        BEGIN { split(crates, list, " "); for (i in list) kept["perchline-" list[i]] }
        /^\[/ { left_out = /^\[(\[bin|\[example|\[bench|profile)/ }
        left_out { next }
        /^default-members/ || /^readme/ { next }
        /^    "src\// { name = $1; gsub(/^"src\/|",$/, "", name); if (!("perchline-" name in kept)) next }
        /^perchline-/ { name = $1; sub(/\..*/, "", name); if (!(name in kept)) next }
        { print }' Cargo.toml >"$crate/Cargo.toml"
    # Readers are tried at their limits, which are large.
    case $folder in propagation | link) level=0 ;; *) level=1 ;; esac
    cat >>"$crate/Cargo.toml" <<TOML
[profile.dev]
opt-level = $level
debug = false
incremental = true

[profile.dev.package."*"]
opt-level = 1
TOML
    for part in $crates; do
        echo "pub use perchline_$part as $part;"
    done >"$crate/src/lib.rs"
    # Tests of methods and links stand in a program of their own; the readers
    # have theirs beside the code.
    case $folder in
        propagation | link)
            cp -r "tests/$folder" "$crate/tests"
            # What runs the program stays behind.
            sed -i -e '/^pub mod/d' -e 's/env!("CARGO_BIN_EXE_perchline")/"perchline"/' \
                "$crate/tests/support/mod.rs"
            # Properties are tried on fewer cases, always the same: a mutant that
            # only the hundredth case would notice counts as missed.
            sed -i 's/cases: [0-9]\+, failure/cases: 64, failure/' "$crate"/tests/*/*.rs
            ;;
    esac
}

# The tool on the crate of a folder.
mutants() {
    local folder=$1 file files=()
    shift
    for file in $(set -f && files_of "$folder"); do
        files+=(--file "$file")
    done
    nice cargo mutants --dir "$out/$folder" --config "$root/.cargo/mutants.toml" \
        --package "perchline-$folder" "${files[@]}" --colors never "$@"
}

# Tests the mutants of a folder, or those that the further arguments ask for,
# and writes what came of each into outcomes.txt: a word, a tab, the mutant.
measure() {
    local folder=$1 crate=$out/$1 failed=0 outcome packages="perchline-$1" targets=(--lib)
    local packages_tested=(--package "perchline-$1")
    shift
    echo "== $folder: laying out, then a mutant after the other" >&2
    lay_out "$folder"
    [ $# -gt 0 ] || rm -f "$crate/outcomes.txt"
    mutants "$folder" --list >"$crate/all.txt"
    if [ -d "$crate/tests/$folder" ]; then
        packages+=,perchline
        packages_tested+=(--package perchline)
        targets+=(--test "$folder")
    fi
    # All tests pass on the unmutated tree, or nothing that follows means anything.
    # Tried here: the tool itself tries the mutated crate's own tests alone.
    nice cargo test --manifest-path "$crate/Cargo.toml" "${packages_tested[@]}" \
        "${targets[@]}" -- "${slow[@]}" >&2
    # Lints are no tests. 2: some were missed, 3: some ran out of time, of which
    # they have some thirty times what the tests take.
    mutants "$folder" --in-place --output "$crate" --cap-lints true --jobserver-tasks 1 \
        --test-package "$packages" --baseline skip --timeout 120 --build-timeout 300 "$@" \
        -- "${targets[@]}" -- "${slow[@]}" >&2 || failed=$?
    # What was tried before it was stopped counts.
    for outcome in caught timeout missed unviable; do
        sed "s/^/$outcome\t/" "$crate/mutants.out/$outcome.txt"
    done >>"$crate/outcomes.txt"
    case $failed in 0 | 2 | 3) ;; *) echo "mutants: stopped with $failed" >&2 ;; esac
}

# Adds up the last outcome of each mutant, and says what is still missed.
report() {
    local folder
    for folder in propagation link confine vector terrain; do
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
        {
            group = $1 == "propagation" || $1 == "link" ? "methods" : "readers"
            line($1, $2, $3, $4, $5, $6)
            for (i = 2; i <= 6; i++) sum[group, i] += $i
            measured[group]
        }
        END {
            if (!NR) { print "mutants: nothing was measured yet" >"/dev/stderr"; exit 1 }
            for (group in measured) {
                share = line(group, sum[group, 2], sum[group, 3], sum[group, 4], sum[group, 5], sum[group, 6])
                if (group == "methods") printf "figure mutants_caught_percent %.1f percent\n", share
                else printf "figure reader_mutants_caught_percent %.1f percent\n", share
            }
        }'
    cat "$out"/*/missed.txt >&2
}

case ${1-} in
    "")
        for folder in propagation link confine vector terrain; do measure "$folder"; done
        report
        ;;
    propagation | link | confine | vector | terrain) measure "$@" && report ;;
    report) report ;;
    *) sed -n '2,/^#$/s/^# \?//p' "$0" >&2 && exit 2 ;;
esac
