#!/bin/sh
# Puts what drives and examines a browser (package-lock.json beside this) into
# target/test-browser for the tests of the pages. The browser itself is the
# machine's own.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")" && pwd)
exec sh "$here/../../src/pages/npm-packages.sh" "$here" test-browser \
    "tests in a browser fail without them, unless PERCHLINE_SKIP=browser"
