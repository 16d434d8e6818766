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

# wish PACKAGE TEST... is for what some tests skip without: it is installed only
# where the system has it as a package. Where no list of packages has been
# fetched yet, that is seen after fetching.
wished=
wish() {
	package=$1
	shift
	if "$@" >/dev/null 2>&1 || ! command -v apt-cache >/dev/null 2>&1; then
		return
	fi
	if packaged "$package" || ! ls /var/lib/apt/lists/*Packages* >/dev/null 2>&1; then
		wished="$wished $package"
	fi
}

packaged() { apt-cache policy "$1" 2>/dev/null | grep -q 'Candidate: [^(]'; }
has_command() { command -v "$1"; }
has_browser() { has_command chromium || has_command google-chrome; }
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
	# what the page of the desk is tested in
	wish chromium has_browser
fi

fetch() { $as_root apt-get update -qq; }
install() { $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null; }

as_root=
[ "$(id -u)" = 0 ] || as_root=sudo

if [ -n "$packages" ]; then
	if ! command -v apt-get >/dev/null 2>&1; then
		echo "crowline needs these, by their Debian names:$packages." >&2
		echo "This is not Debian or Ubuntu: install them with your system's own tools and run make again." >&2
		exit 1
	fi
	if [ -n "$as_root" ] && ! command -v sudo >/dev/null 2>&1; then
		echo "crowline needs these packages:$packages. Install them as root and run make again." >&2
		exit 1
	fi
	echo "Installing:$packages" >&2
	fetch
	# shellcheck disable=SC2086 # words
	install $packages
fi

# Without what is wished for tests skip, so nothing stops here.
for package in $wished; do
	if [ -n "$as_root" ] && ! command -v sudo >/dev/null 2>&1; then
		echo "Some tests skip without the package $package: install it as root to run them." >&2
		continue
	fi
	echo "Installing: $package" >&2
	if ! { packaged "$package" || fetch; } || ! packaged "$package" || ! install "$package"; then
		echo "The package $package could not be installed: the tests that use it skip." >&2
	fi
done

# Go itself: Debian's may be older than go.mod asks for.
if ! command -v "${GO:-go}" >/dev/null 2>&1; then
	echo "crowline needs Go $(sed -n 's/^go //p' go.mod) or later: install it from https://go.dev/dl/ and run make again." >&2
	exit 1
fi
