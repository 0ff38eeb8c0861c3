#!/bin/sh
# Puts the map library and the bundler that package-lock.json pins into target/pages,
# for bundle.sh beside this.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
exec sh "$here/npm-packages.sh" "$here" pages "the pages cannot be bundled without"
