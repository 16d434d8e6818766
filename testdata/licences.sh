#!/bin/sh
# licences.sh prints the licences of what is built into crowline, as go.mod has
# it, and names what it is linked with and what only its tests use.
set -eu
cd "$(dirname "$0")/.."
go=${GO:-go}

cat <<'END'
Licences of others' work in crowline
====================================

Made by testdata/licences.sh from go.mod; do not edit.

crowline is linked with GDAL and PROJ, each under an MIT style licence, which
come with the system; on Debian and Ubuntu their licences are in
/usr/share/doc/libgdal*/copyright and /usr/share/doc/libproj*/copyright.
END

built=$("$go" list -deps -f '{{with .Module}}{{if .Version}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}' ./cmd/crowline | sort -u)
echo "$built" | while read -r path version folder; do
	printf '\n--------------------------------------------------------------------------------\n%s %s\n\n' "$path" "$version"
	found=
	for file in "$folder"/LICENSE* "$folder"/LICENCE* "$folder"/COPYING* "$folder"/NOTICE* "$folder"/PATENTS*; do
		[ -f "$file" ] || continue
		found=yes
		sed 's/[[:space:]]*$//' "$file"
	done
	if [ -z "$found" ]; then
		echo "licences.sh: $path has no licence file" >&2
		exit 1
	fi
done

printf '\n--------------------------------------------------------------------------------\nOf go.mod, used by tests or other systems only, and not in the program:\n\n'
sed -n 's/^\t\([^ ]*\) \(v[^ ]*\).*/\1 \2/p' go.mod | sort | while read -r path version; do
	echo "$built" | grep -qF "$path $version " || echo "  $path $version"
done
