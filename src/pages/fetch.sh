#!/bin/sh
# Puts the map library and the bundler that package-lock.json pins into target/pages,
# for bundle.sh beside this. Everything that it says goes to standard error.
#
# Exit code 0: they are there, or they could not be fetched (offline, no npm) and a
# message says so.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
place="$here/../../target/pages"

say() { echo "fetch-pages: $*" >&2; }

if cmp -s "$here/package-lock.json" "$place/fetched-lock.json"; then
    exit 0
fi
command -v npm >/dev/null || {
    say "npm is needed to fetch them; the pages cannot be bundled without"
    exit 0
}
mkdir -p "$place"
rm -f "$place/fetched-lock.json"
cp "$here/package.json" "$here/package-lock.json" "$place/"
# Scripts of packages would run whatever they like.
(cd "$place" && npm ci --ignore-scripts --no-audit --no-fund) >"$place/log" 2>&1 || {
    tail -n 3 "$place/log" >&2
    say "the packages could not be fetched (offline?); the pages cannot be bundled without"
    exit 0
}
cp "$place/package-lock.json" "$place/fetched-lock.json"
say "$place"
