#!/bin/sh
# npm-packages.sh FOLDER NAME WITHOUT: puts the packages that FOLDER/package-lock.json
# pins into target/NAME; WITHOUT says what is not to be had without them. Everything
# that it says goes to standard error.
#
# Exit code 0: they are there, or they could not be fetched (offline, no npm) and a
# message says so.
set -eu

from=$1
name=$2
without=$3
root=$(CDPATH='' cd -- "$(dirname -- "$0")/../.." && pwd)
place="$root/target/$name"

say() { echo "fetch-$name: $*" >&2; }

if cmp -s "$from/package-lock.json" "$place/fetched-lock.json"; then
    exit 0
fi
command -v npm >/dev/null || {
    say "npm is needed to fetch them; $without"
    exit 0
}
mkdir -p "$place"
rm -f "$place/fetched-lock.json"
cp "$from/package.json" "$from/package-lock.json" "$place/"
# Scripts of packages would fetch a browser or run whatever they like.
(cd "$place" && npm ci --ignore-scripts --no-audit --no-fund) >"$place/log" 2>&1 || {
    tail -n 3 "$place/log" >&2
    say "the packages could not be fetched (offline?); $without"
    exit 0
}
cp "$place/package-lock.json" "$place/fetched-lock.json"
say "$place"
