#!/bin/bash
# archive.sh PROGRAM OUT: packs the program with all libraries that it needs, but for
# the C library, and with their data, into OUT/perchline-VERSION-linux-MACHINE.tar.xz.
# It runs from wherever it is unpacked. Wants Debian or Ubuntu, whose packages say
# under which licence each library is, and patchelf. Prints the archive's name.
set -euo pipefail
program=$(realpath "$1")
mkdir -p "$2"
out=$(realpath "$2")
here=$(realpath "$(dirname "$0")")
cd "$here/.."
umask 022

version=$("$program" --version | sed -n '1s/^perchline \([0-9][^ ]*\).*/\1/p')
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || date +%s)}
name=perchline-$version-linux-$(uname -m)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
root=$work/$name
"$here/stage.sh" "$program" "$root"

# What belongs to the C library is the system's: its loader and its parts fit only
# each other.
of_the_c_library='^(ld-linux.*|lib(c|m|mvec|dl|pthread|rt|resolv|util|anl|nsl|BrokenLocale|thread_db|nss_[a-z]+))\.so'

# Each library's name and the file behind it.
ldd "$program" >"$work/ldd"
if grep 'not found' "$work/ldd" >&2; then exit 1; fi
sed -nE 's#^\s*(\S+) => (/\S+) .*#\1 \2#p' "$work/ldd" | grep -vE "$of_the_c_library" | sort -u >"$work/libraries"
mkdir -p "$root/lib"
while read -r library file; do
    install -m 644 "$file" "$root/lib/$library"
    # A path of its own would lead it to the system's libraries.
    if readelf -d "$root/lib/$library" | grep -qE '\((RPATH|RUNPATH)\)'; then
        patchelf --remove-rpath "$root/lib/$library"
    fi
done <"$work/libraries"
# RPATH, not RUNPATH: it holds for the libraries of libraries, and before any
# LD_LIBRARY_PATH.
patchelf --force-rpath --set-rpath '$ORIGIN/../lib' "$root/bin/perchline"

# Data, of the version of the libraries and as their packages have them:
# src/confine/carried.rs finds them there.
for package in gdal-data:gdal proj-data:proj; do
    from=/usr/share/${package#*:}
    to=$root/share/perchline/${package#*:}
    dpkg -L "${package%:*}" | grep "^$from/" | while read -r file; do
        [ ! -f "$file" ] || install -D -m 644 "$file" "$to/${file#"$from/"}"
    done
    [ -n "$(ls "$to")" ]
done

# Whose the libraries are: a table, and the licence of each package.
doc=$root/share/doc/perchline
licences=$doc/licences
mkdir -p "$licences"
package_of() {
    local file=$1 found
    for file in "$1" "$(realpath "$1")" "/usr$(realpath "$1")" "$(realpath "$1" | sed 's#^/usr##')"; do
        found=$(dpkg -S "$file" 2>/dev/null | grep -v '^diversion' | head -n 1 | sed 's/: .*//') || continue
        [ -n "$found" ] && { echo "${found%%,*}"; return; }
    done
    echo "archive: no package holds $1" >&2
    return 1
}
credit() {
    local package
    package=$(package_of "$2")
    install -D -m 644 "/usr/share/doc/${package%%:*}/copyright" "$licences/${package%%:*}.txt"
    printf '%s\t%s\t%s\n' "$1" "${package%%:*}" \
        "$(dpkg-query -W -f '${Version}\t${source:Package}\t${source:Version}' "$package")" >>"$work/table"
}
while read -r library file; do credit "lib/$library" "$file"; done <"$work/libraries"
credit share/perchline/gdal /usr/share/gdal
credit share/perchline/proj /usr/share/proj/proj.db
{
    printf 'file\tpackage\tversion\tsource package\tits version\n'
    sort "$work/table"
} >"$doc/libraries.tsv"
# The texts that those files refer to.
mkdir -p "$licences/common-licenses"
for text in $(grep -rhoE '/usr/share/common-licenses/[A-Za-z0-9.+-]+[A-Za-z0-9+]' "$licences" | sort -u); do
    [ ! -e "$text" ] || install -m 644 "$(realpath "$text")" "$licences/common-licenses/${text##*/}"
done
python3 "$here/notices.py" >"$licences/crates.txt"
cp src/pages/bundled/leaflet-licence.txt "$licences/leaflet.txt"
sed "s|@RELEASE@|$(. /etc/os-release; echo "$PRETTY_NAME")|; s|@CLIB@|$(ldd --version | sed -n '1s/.* //p')|" \
    "$here/READ-ME.txt" >"$root/READ-ME.txt"

find "$root" -print0 | xargs -0 touch --no-dereference --date="@$SOURCE_DATE_EPOCH"
tar --create --directory "$work" --sort=name --owner=0 --group=0 --numeric-owner "$name" \
    | xz -T 0 -6 >"$out/$name.tar.xz"
echo "$out/$name.tar.xz"
