#!/bin/bash
# All that people look at, of both samples, on one sheet:
#   tests/looks.sh [PROGRAM]
# runs every verb that draws something with --out, takes the pages of each PDF and a
# phone's and a laptop's view of each page, and puts them all on target/looks/sheet.png
# and, larger, on target/looks/index.html. Nothing is judged here: open them, and judge
# as the liaison, as the lead and as a cartographer would.
set -euo pipefail
cd "$(dirname "$0")/.."
program=$(realpath "${1:-target/release/perchline}")
looks=$PWD/target/looks/all
rm -rf "$looks"
mkdir -p "$looks"

for tool in pdftoppm node; do
    command -v "$tool" >/dev/null || { echo "looks: $tool is missing (make test-system)" >&2; exit 1; }
done

# What a sample has: its relay's site and a post for the verbs that want one.
draw() {
    local sample=$1 site=$2 post=$3 digipeater=$4 plan=sample-terrain/$1.toml out=$looks/$1
    shift 4
    mkdir -p "$out"
    run() {
        echo "looks: $sample: $*" >&2
        "$program" "$@" --out "$out" >"$out/$1.txt" || [ $? -eq 1 ] || {
            echo "looks: $* failed" >&2
            return 1
        }
    }
    run rank "$plan"
    run coverage "$plan" --site "$site"
    run path "$plan" --from "$site" --to "$post"
    run brief "$plan" --paper both --paper a3 --paper tabloid --paper poster
    run ready "$plan"
    run direct "$plan"
    run masts "$plan" "$@"
    run search "$plan" "$@"
    run cosite "$plan"
    run rehearse "$plan"
    run trackers "$plan" --site "$digipeater"
    run power "$plan"
    run choose "$plan"
}

draw ferry-lights "Car park" "Aid 6" "Car park"
draw ferry-lights-town "Car park" "Aid 6" "Hotel"
"$program" debrief sample-terrain/ferry-lights.toml sample-terrain/heard.csv --site "Car park" \
    --out "$looks/ferry-lights" >"$looks/ferry-lights/debrief.txt"

for paper in "$looks"/*/*.pdf; do
    pdftoppm -r 60 -png "$paper" "${paper%.pdf}-page"
done
node tests/browser/looks.mjs "$looks" >&2
echo "Open target/looks/index.html, or target/looks/sheet.png."
