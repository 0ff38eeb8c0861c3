#!/bin/bash
# deb.sh PROGRAM OUT: builds a package of Debian or Ubuntu into OUT, for the release
# that this runs on: its dependencies are the libraries that the program links here.
# Prints the package's name.
set -euo pipefail
program=$(realpath "$1")
mkdir -p "$2"
out=$(realpath "$2")
here=$(realpath "$(dirname "$0")")
cd "$here/.."
umask 022

version=$("$program" --version | sed -n '1s/^perchline \([0-9][^ ]*\).*/\1/p')
architecture=$(dpkg --print-architecture)
# The time of the last change, so that the same sources make the same package.
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || date +%s)}
export SOURCE_DATE_EPOCH
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
root=$work/root
"$here/stage.sh" "$program" "$root/usr"

# Where Debian keeps what has another place elsewhere.
mkdir -p "$root/usr/share/zsh/vendor-completions"
mv "$root/usr/share/zsh/site-functions/_perchline" "$root/usr/share/zsh/vendor-completions/"
rmdir "$root/usr/share/zsh/site-functions"
gzip -9n "$root"/usr/share/man/man1/*.1
docs=$root/usr/share/doc/perchline
rm "$docs/LICENSE"
{
    echo "Perchline is licensed as follows. The crates and the font that are linked into it, and"
    echo "the map library in its pages, have the licences in crates.txt.gz beside this file and"
    echo "at the end of it."
    echo
    cat LICENSE
    echo
    echo "On Debian systems the Apache License 2.0 is in /usr/share/common-licenses/Apache-2.0."
    echo
    echo "The map library, Leaflet:"
    echo
    cat src/pages/bundled/leaflet-licence.txt
} >"$docs/copyright"
python3 "$here/notices.py" | gzip -9n >"$docs/crates.txt.gz"
printf 'perchline (%s) unstable; urgency=low\n\n  * What is new stands in the history of the sources.\n\n -- Perchline contributors <perchline@localhost>  %s\n' \
    "$version" "$(date -R -d "@$SOURCE_DATE_EPOCH")" | gzip -9n >"$docs/changelog.gz"

# Which packages hold the libraries that the program names, and from which version on.
mkdir -p "$work/debian" "$root/DEBIAN"
printf 'Source: perchline\n\nPackage: perchline\nArchitecture: any\n' >"$work/debian/control"
depends=$(cd "$work" && dpkg-shlibdeps -O --ignore-missing-info "$root/usr/bin/perchline" 2>"$work/said" \
    | sed -n 's/^shlibs:Depends=//p') || { cat "$work/said" >&2; exit 1; }
[ -n "$depends" ] || { cat "$work/said" >&2; echo "deb: no dependencies were found" >&2; exit 1; }
cat >"$root/DEBIAN/control" <<END
Package: perchline
Version: $version
Architecture: $architecture
Maintainer: Perchline contributors <perchline@localhost>
Installed-Size: $(du -sk --exclude=DEBIAN "$root" | cut -f 1)
Depends: $depends
Section: hamradio
Priority: optional
Description: choose relay sites for a public event's hand-held radios
 From elevation files on the laptop and one plan file that lists posts, staging
 areas, routes and candidate roofs, perchline works out for every site which
 hand-held radios worn on a body should hear the relay and be heard by it, in
 both directions and with a stated margin. It ranks the sites, says why a post
 fails and what would fix it, and writes maps and a briefing, without a network.
END
(cd "$root" && find usr -type f -print0 | sort -z | xargs -0 md5sum >DEBIAN/md5sums)
name=perchline_${version}_$architecture.deb
dpkg-deb --root-owner-group -Zxz --build "$root" "$out/$name" >/dev/null
echo "$out/$name"
