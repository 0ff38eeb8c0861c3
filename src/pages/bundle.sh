#!/bin/sh
# bundle.sh FOLDER: bundles the scripts and styles of the pages, with the map library
# that fetch.sh fetched, into FOLDER, and the library's licence beside them. `make pages`
# does so into src/pages/bundled, from where the program takes them.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
place="$here/../../target/pages"
mkdir -p "$1"
out=$(CDPATH='' cd -- "$1" && pwd)

cmp -s "$here/package-lock.json" "$place/fetched-lock.json" || {
    echo "bundle-pages: what package-lock.json pins is not in target/pages: sh src/pages/fetch.sh fetches it" >&2
    exit 1
}
# Beside the packages, so that the bundler finds them and names no folder of this machine.
rm -rf "$place/bundled" "$place"/*.js "$place"/*.css
cp "$here"/*.js "$here"/*.css "$place/"
cd "$place"
node_modules/.bin/esbuild brief.js live.js live-start.js --bundle --minify --charset=utf8 \
    --legal-comments=eof --target=es2020 --loader:.png=dataurl --outdir=bundled --log-level=warning
cp bundled/*.js bundled/*.css "$out/"
cp node_modules/leaflet/LICENSE "$out/leaflet-licence.txt"
