#!/bin/sh
# Puts what drives and examines a browser (package-lock.json beside this) into
# target/test-browser for the tests of the pages. The browser itself is the
# machine's own. Everything that it says goes to standard error.
#
# Exit code 0: it is there, or it could not be fetched (offline, no npm) and a
# message says so.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
place="$here/../../target/test-browser"

say() { echo "fetch-test-browser: $*" >&2; }

if cmp -s "$here/package-lock.json" "$place/fetched-lock.json"; then
    exit 0
fi
command -v npm >/dev/null || {
    say "npm is needed to fetch it; tests in a browser fail without it, unless PERCHLINE_SKIP=browser"
    exit 0
}
mkdir -p "$place"
rm -f "$place/fetched-lock.json"
cp "$here/package.json" "$here/package-lock.json" "$place/"
# Scripts of packages would fetch a browser or run whatever they like.
(cd "$place" && npm ci --ignore-scripts --no-audit --no-fund) >"$place/log" 2>&1 || {
    tail -n 3 "$place/log" >&2
    say "the packages could not be fetched (offline?); tests in a browser fail without them, unless PERCHLINE_SKIP=browser"
    exit 0
}
cp "$place/package-lock.json" "$place/fetched-lock.json"
say "$place"
