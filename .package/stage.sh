#!/bin/bash
# stage.sh PROGRAM FOLDER: lays out below FOLDER what an installation holds, as it
# lies below /usr or /usr/local: the program, its manual pages and completions, the
# plan's schema, the sample, the documentation and the licences.
set -euo pipefail
program=$(realpath "$1")
mkdir -p "$2"
place=$(realpath "$2")
cd "$(dirname "$0")/.."
umask 022

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$program" extras --out "$work/extras" >/dev/null

put() {
    mkdir -p "$place/$2"
    install -m "$1" "${@:3}" "$place/$2"
}
put_as() {
    mkdir -p "$(dirname "$place/$2")"
    install -m 644 "$1" "$place/$2"
}

mkdir -p "$place/bin"
install -m 755 -s "$program" "$place/bin/perchline"
put 644 share/man/man1 "$work"/extras/*.1
put_as "$work/extras/perchline.bash" share/bash-completion/completions/perchline
put_as "$work/extras/perchline.zsh" share/zsh/site-functions/_perchline
put_as "$work/extras/perchline.fish" share/fish/vendor_completions.d/perchline.fish
put 644 share/perchline "$work/extras/plan.schema.json"
put 644 share/perchline/sample sample-terrain/*.{toml,tif,geojson,csv}
put 644 share/doc/perchline LICENSE docs/sample-map.png "$work/extras/linked.cdx.json"
# The README of the sources comes first here, as perchline.md. Links lead into docs/,
# which is this folder, and to the sample.
mkdir "$work/docs"
for page in docs/*.md; do
    sed 's#](\.\./sample-terrain/#](../../perchline/sample/#g' "$page" >"$work/$page"
done
sed 's#](docs/#](#g; s#](sample-terrain/#](../../perchline/sample/#g
    s#\[DEVELOPERS.md\](DEVELOPERS.md)#DEVELOPERS.md of the sources#' README.md >"$work/docs/perchline.md"
put 644 share/doc/perchline "$work"/docs/*.md
