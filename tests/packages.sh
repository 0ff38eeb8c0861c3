#!/bin/bash
# Installs the package and the archive that `make package` built each into a bare
# system, works on the sample there as a plain user, and holds what comes out to what
# the same program writes here:
#   figure package_megabytes VALUE MB
#   figure portable_megabytes VALUE MB
#   figure bare_system_verbs_ok VALUE verbs   of check, rank, brief and live, right in both
# Wants Debian or Ubuntu as root, mmdebstrap and the network. An argument names a newer
# release to try the archive on (tests/packages.sh trixie). Fails where a verb fails
# or a limit is exceeded, and says so on standard error.
set -euo pipefail
cd "$(dirname "$0")/.."

package_limit=60
portable_limit=120
packages=$PWD/target/package
program=$PWD/target/release/perchline
deb=$(ls "$packages"/perchline_*.deb)
archive=$(ls "$packages"/perchline-*.tar.xz)
export SOURCE_DATE_EPOCH=1764950400 LC_ALL=C

work=$(mktemp -d "$packages/roots.XXXXXX")
failed=0
live=
end() {
    [ -z "$live" ] || kill "$live" 2>/dev/null || true
    rm -rf --one-file-system "$work"
}
trap end EXIT
wrong() { echo "packages: $*" >&2; failed=1; }

# The size of a file in megabytes; fails if it has more than so many.
megabytes() {
    local size
    size=$(stat -c %s "$1")
    awk -v size="$size" 'BEGIN { printf "%.1f", size / 1e6 }'
    [ "$size" -le $(($2 * 1000000)) ]
}
size=$(megabytes "$deb" "$package_limit") || wrong "$deb has more than $package_limit MB"
echo "figure package_megabytes $size MB"
size=$(megabytes "$archive" "$portable_limit") || wrong "$archive has more than $portable_limit MB"
echo "figure portable_megabytes $size MB"

release=$(. /etc/os-release; echo "$VERSION_CODENAME")

# A folder with the smallest system of a release, which is kept for the next run.
bare() {
    local base=$packages/bare-$2.tar
    [ "$base" -nt /etc/os-release ] || mmdebstrap --quiet --variant=minbase "$2" "$base" >&2
    mkdir -p "$work/$1"
    tar --extract --numeric-owner --file "$base" --directory "$work/$1"
    mkdir -p "$work/$1/home/lead"
    chown 1000:1000 "$work/$1/home/lead"
    for there in usr/bin/cc usr/bin/gcc usr/share/proj usr/share/gdal; do
        [ ! -e "$work/$1/$there" ] || wrong "$1: /$there is there, so the system is not bare"
    done
    [ -z "$(find "$work/$1/usr/lib" -name 'libgdal*' -o -name 'libproj*')" ] || wrong "$1: libraries are there"
}

# Runs a command in a root, as root, with the kernel's own folders and no others.
within() {
    unshare --mount sh -c 'mount -t proc proc "$0/proc" && exec chroot "$@"' "$work/$1" "$work/$1" "${@:2}"
}
# The same as a plain user, in his home, with his few variables. Takes the place of
# the shell that it is called in.
as_lead() {
    local root=$work/$1
    shift
    exec unshare --mount sh -c 'root=$0; mount -t proc proc "$root/proc" && exec chroot --userspec=1000:1000 "$root" \
        env -i HOME=/home/lead PATH=/usr/bin:/bin SOURCE_DATE_EPOCH="$SOURCE_DATE_EPOCH" \
        sh -c "cd && exec \"\$@\"" sh "$@"' "$root" "$@"
}

# The page over the network's own loop, without a client of HTTP.
fetched() {
    local host=${1#http://} path
    path=/${host#*/}
    host=${host%%/*}
    exec 9<>"/dev/tcp/${host%:*}/${host##*:}" || return 1
    printf 'GET %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n' "$path" "$host" >&9
    timeout 20 cat <&9
    exec 9<&- 9>&-
}

try_live() {
    local root=$1 address= tries
    as_lead "$root" "$2" live sample/ferry-lights.toml --port 8931 >"$work/$root.live" 2>"$work/$root.err" &
    live=$!
    for tries in $(seq 100); do
        address=$(grep -o 'http://[^ ]*' "$work/$root.live" | head -n 1) && break
        sleep 0.2
    done
    [ -n "$address" ] || { cat "$work/$root.live" "$work/$root.err" >&2; return 1; }
    fetched "$address" >"$work/$root.page" || return 1
    grep -q '^HTTP/1.1 200' "$work/$root.page" && grep -qi '</html>' "$work/$root.page" || {
        head -c 2000 "$work/$root.page" >&2
        return 1
    }
    # Ends as with Ctrl-C: well.
    kill -INT "$live"
    wait "$live" || return 1
    live=
}

# Tries the verbs in a root: what they print and write is what they do here.
try_verbs() {
    local root=$1 run=$2 home=$work/$1/home/lead verb
    cp -r "$3" "$home/sample"
    chown -R 1000:1000 "$home/sample"
    for verb in check rank brief; do
        local more=()
        [ "$verb" = check ] || more=(--out "$verb-out")
        if (as_lead "$root" "$run" "$verb" sample/ferry-lights.toml --json "${more[@]}") >"$home/$verb.json" 2>"$work/err" \
            && cmp -s "$home/$verb.json" "$work/here/$verb.json" \
            && { [ "$verb" = check ] || diff -r "$home/$verb-out" "$work/here/$verb-out" >"$work/err"; }; then
            echo "$verb" >>"$work/$root.ok"
        else
            wrong "$root: $verb fails or comes to something else"
            head -n 20 "$work/err" >&2
        fi
    done
    if try_live "$root" "$run"; then echo live >>"$work/$root.ok"; else wrong "$root: live fails"; fi
}

mkdir "$work/here"
cp -r sample-terrain "$work/here/sample"
(
    cd "$work/here"
    "$program" check sample/ferry-lights.toml --json >check.json
    "$program" rank sample/ferry-lights.toml --json --out rank-out >rank.json
    "$program" brief sample/ferry-lights.toml --json --out brief-out >brief.json
)

bare portable "${1:-$release}"
mkdir "$work/portable/opt/carried"
tar --extract --no-same-owner --file "$archive" --directory "$work/portable/opt/carried"
carried=$(cd "$work/portable" && echo opt/carried/*)
try_verbs portable "/$carried/bin/perchline" "$work/portable/$carried/share/perchline/sample"
# A link from a folder of programs, and libraries and data of another version that
# variables name.
ln -s "/$carried/bin/perchline" "$work/portable/usr/bin/perchline"
mkdir -p "$work/portable/srv/other"
echo "not a data base" >"$work/portable/srv/other/proj.db"
echo "not a library" >"$work/portable/srv/other/libgdal.so.32"
(as_lead portable env PROJ_DATA=/srv/other PROJ_LIB=/srv/other GDAL_DATA=/srv/other LD_LIBRARY_PATH=/srv/other \
    perchline check sample/ferry-lights.toml --json) >"$work/linked.json" 2>"$work/err" \
    && cmp -s "$work/linked.json" "$work/here/check.json" \
    || { wrong "portable: check fails through a link with others' data and libraries"; cat "$work/err" >&2; }

bare package "$release"
cp "$deb" "$work/package/tmp/perchline.deb"
cp /etc/resolv.conf "$work/package/etc/resolv.conf"
# How this machine reaches the archive of packages.
apt-config dump Acquire >"$work/package/etc/apt/apt.conf.d/99here"
within package sh -c 'apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends /tmp/perchline.deb' >"$work/apt" 2>&1 \
    || { tail -n 20 "$work/apt" >&2; wrong "package: apt-get does not install it"; }
try_verbs package perchline "$work/package/usr/share/perchline/sample"

touch "$work/portable.ok" "$work/package.ok"
count=$(sort "$work/portable.ok" "$work/package.ok" | uniq -d | wc -l)
echo "figure bare_system_verbs_ok $count verbs"
exit "$failed"
