#!/bin/sh
# Installs what building (build) or testing (test) needs and the machine has
# not got. On Debian and Ubuntu it uses apt-get; elsewhere it says what is
# missing and stops.
set -eu

wanted=${1:-build}
packages=

need() { # need PACKAGE TEST...
	package=$1
	shift
	"$@" >/dev/null 2>&1 || packages="$packages $package"
}

has_command() { command -v "$1"; }
has_header() { pkg-config --exists "$1"; }

need gcc has_command "${CC:-gcc}"
need pkg-config has_command pkg-config
need libgdal-dev has_header gdal
need libproj-dev has_header proj
if [ "$wanted" = test ]; then
	# what the tests hold answers against
	need gdal-bin has_command gdallocationinfo
	need geographiclib-tools has_command GeodSolve
	need poppler-utils has_command pdftotext
fi

if [ -n "$packages" ]; then
	if ! command -v apt-get >/dev/null 2>&1; then
		echo "crowline needs these, by their Debian names:$packages." >&2
		echo "This is not Debian or Ubuntu: install them with your system's own tools and run make again." >&2
		exit 1
	fi
	as_root=
	if [ "$(id -u)" != 0 ]; then
		if ! command -v sudo >/dev/null 2>&1; then
			echo "crowline needs these packages:$packages. Install them as root and run make again." >&2
			exit 1
		fi
		as_root=sudo
	fi
	echo "Installing:$packages" >&2
	$as_root apt-get update -qq
	$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $packages >/dev/null
fi

# Go itself: Debian's may be older than go.mod asks for.
if ! command -v "${GO:-go}" >/dev/null 2>&1; then
	echo "crowline needs Go $(sed -n 's/^go //p' go.mod) or later: install it from https://go.dev/dl/ and run make again." >&2
	exit 1
fi
