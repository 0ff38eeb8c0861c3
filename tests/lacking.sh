#!/bin/sh
# Prints what this machine lacks of what the tests want, as PERCHLINE_SKIP takes
# it, and on standard error a line for each: what is missing, and what is then
# not checked. Run it after what fetches (make test-data) and installs.
set -u
cd "$(dirname "$0")/.." || exit 1

list=

# A word, and what to say of it.
lacks() {
    list=${list:+$list,}$1
    echo "Left out ($1): $2" >&2
}

have() { for program; do command -v "$program" >/dev/null || return 1; done; }

{ [ -e target/test-data/jacksboro_fault_dem.npz ] && [ -e target/test-data/topobathy.npz ] &&
    [ -e target/test-data/rmnp-dem.tif ]; } ||
    lacks elevation "not all real elevation is in target/test-data: line of sight and classes over real ground are not checked."

have gdal_viewshed gdalwarp gdal_rasterize gdal_translate ogr2ogr ||
    lacks gdal "not all of GDAL's programs are here: nothing is compared with them."

{ have node chromium pdftotext && cmp -s tests/browser/package-lock.json target/test-browser/fetched-lock.json; } ||
    lacks browser "no chromium, no node, no pdftotext or nothing to drive the browser with: the pages are not tried in a browser."

{ have node && cmp -s src/pages/package-lock.json target/pages/fetched-lock.json; } ||
    lacks pages "no node, or nothing to bundle with: that the pages are what their sources give is not checked."

disk=$(mktemp -d)
unshare --user --map-root-user --mount mount -t tmpfs none "$disk" 2>/dev/null ||
    lacks mount "no disk can be mounted: full and read-only ones are not tried."
rmdir "$disk"

strace -qq -o /dev/null true 2>/dev/null ||
    lacks trace "nothing can be traced: that no socket is opened is not checked."

# landlock_create_ruleset asked for its version, and seccomp in the kernel.
{ grep -q '^Seccomp:' /proc/self/status &&
    python3 -c 'import ctypes, sys; sys.exit(ctypes.CDLL(None).syscall(444, None, 0, 1) < 1)'; } 2>/dev/null ||
    lacks box "this kernel shuts no process in: the box is not checked."

[ "$(uname)" = Linux ] ||
    lacks linux "not Linux: how much memory a run holds is not checked, nor a full device."

[ "$(id -u)" = 0 ] ||
    lacks owner "not root: that a saved plan keeps its owner is not checked."

[ -e "${PERCHLINE_VALIDATION:-../shared/validation}/handheld-462/readings.csv" ] ||
    lacks measured "no measured hand-helds: spread and growth with distance are not held to readings."

echo "$list"
