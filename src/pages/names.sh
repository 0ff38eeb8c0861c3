#!/bin/sh
# names.sh FOLDER: tells each name that the scripts of the pages in FOLDER use and nothing
# defines, with file and line, by the checker that fetch.sh fetched.
#
# Exit code 0: there is none.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
place="$here/../../target/pages"

cmp -s "$here/package-lock.json" "$place/fetched-lock.json" || {
    echo "page-names: what package-lock.json pins is not in target/pages: sh src/pages/fetch.sh fetches it" >&2
    exit 1
}
# Beside the packages, where imports find them.
scripts=$(mktemp -d "$place/names.XXXXXX")
trap 'rm -rf "$scripts"' EXIT
cp "$1"/*.js "$scripts/"
cd "$scripts"
# It tells of types too, which scripts do not state: kept is what has no definition, a name,
# a member of a short object, an import.
found=$(../node_modules/.bin/tsc --noEmit --allowJs --checkJs --skipLibCheck --target es2020 \
    --module esnext --moduleResolution bundler --lib es2021,dom,dom.iterable ./*.js |
    grep -E 'error (TS2304|TS2552|TS18004|TS2305|TS2307|TS2614|TS2724):' |
    grep -v '\.css' || true)
[ -z "$found" ] || {
    echo "$found"
    exit 1
}
