#!/bin/sh
# Puts a small piece of real elevation into target/test-data for
# tests/terrain/real_elevation.rs: the sample that the matplotlib wheel on PyPI carries
# (jacksboro_fault_dem.npz, 344 x 403 cells of a public-domain USGS tile). It is
# fetched, not committed. Everything that it says goes to standard error.
#
# Exit code 0: it is there, or it could not be fetched (offline, no pip) and a
# message says so. Exit code 1: what was fetched is not the file that it should be.
set -eu

name=jacksboro_fault_dem.npz
sha256=d493f50a33e82a4420494c54d1fca1539d177bdc27ab190bc5fe6e92f62fb637
# One wheel for every machine: only the data in it is used, nothing of it runs.
wheel=matplotlib==3.10.0
built_for="--python-version 3.12 --implementation cp --abi cp312 --platform manylinux_2_17_x86_64"

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
data="$here/target/test-data"

say() { echo "fetch-real-elevation: $*" >&2; }

without() {
    say "$1"
    say "tests on real elevation fail without $data/$name, unless PERCHLINE_SKIP=elevation"
    exit 0
}

sum() {
    if command -v sha256sum >/dev/null; then sha256sum "$1"; else shasum -a 256 "$1"; fi | cut -d ' ' -f 1
}

if [ -s "$data/$name" ]; then
    [ "$(sum "$data/$name")" = "$sha256" ] && exit 0
    say "$data/$name is not the file that these tests were written for; remove it and run this again"
    exit 1
fi

python=$(command -v python3 || command -v python) || without "python3 with pip is needed to fetch it"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# shellcheck disable=SC2086
"$python" -m pip download --quiet --disable-pip-version-check --no-deps --only-binary :all: $built_for \
    --dest "$work" "$wheel" >"$work/log" 2>&1 || {
    tail -n 3 "$work/log" >&2
    without "$wheel could not be fetched from PyPI (offline?)"
}
"$python" - "$work" "$name" <<'PYTHON'
import glob, shutil, sys, zipfile

work, name = sys.argv[1:]
with zipfile.ZipFile(glob.glob(work + "/*.whl")[0]) as wheel:
    member = next(m for m in wheel.namelist() if m.endswith("sample_data/" + name))
    with wheel.open(member) as source, open(work + "/" + name, "wb") as out:
        shutil.copyfileobj(source, out)
PYTHON
if [ "$(sum "$work/$name")" != "$sha256" ]; then
    say "$name out of $wheel has another SHA-256 than expected: it is not used"
    exit 1
fi
mkdir -p "$data"
cp "$work/$name" "$data/$name.part"
mv "$data/$name.part" "$data/$name"
say "$data/$name"
