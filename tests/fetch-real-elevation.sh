#!/bin/sh
# Puts a small piece of real elevation into target/test-data for
# tests/real_elevation.rs: the sample that the matplotlib wheel on PyPI carries
# (jacksboro_fault_dem.npz, 344 x 403 cells of a public-domain USGS tile). It is
# fetched, not committed. Does nothing if it is already there.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
data="$here/target/test-data"
name=jacksboro_fault_dem.npz
[ -s "$data/$name" ] && exit 0

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python=$(command -v python3 || command -v python) || {
    echo "fetch-real-elevation: python3 with pip is needed to fetch $name" >&2
    exit 1
}
if ! "$python" -m pip download --quiet --no-deps --only-binary :all: --dest "$work" matplotlib \
    >"$work/log" 2>&1; then
    cat "$work/log" >&2
    echo "fetch-real-elevation: the matplotlib wheel could not be fetched from PyPI (offline?);" >&2
    echo "fetch-real-elevation: tests on real elevation are skipped without it" >&2
    exit 1
fi
mkdir -p "$data"
"$python" - "$work" "$data/$name" <<'PYTHON'
import glob, shutil, sys, zipfile

work, target = sys.argv[1:]
with zipfile.ZipFile(glob.glob(work + "/*.whl")[0]) as wheel:
    member = next(m for m in wheel.namelist() if m.endswith("sample_data/jacksboro_fault_dem.npz"))
    with wheel.open(member) as source, open(target + ".part", "wb") as out:
        shutil.copyfileobj(source, out)
PYTHON
mv "$data/$name.part" "$data/$name"
echo "fetch-real-elevation: $data/$name"
