#!/bin/sh
# Installs what building (build) or testing (test) needs and the machine has
# not got. On Debian and Ubuntu it uses apt-get; elsewhere it says what is
# missing and stops. Go is looked at first: without it nothing is installed.
set -eu
cd "$(dirname "$0")/.."

wanted=${1:-build}
go=${GO:-go}

# --- Go, before anything is installed -------------------------------------

needed=$(sed -n 's/^go \([0-9.]*\).*/\1/p' go.mod)
if ! command -v "$go" >/dev/null 2>&1; then
	echo "crowline needs Go $needed or later, and there is none: install it from https://go.dev/dl/ and run make again. Nothing was installed." >&2
	exit 1
fi
# Asked outside the module: inside, a Go that fetches toolchains would fetch one
# to say its version, and one that is too old would only complain of go.mod.
have=$(cd / && "$go" env GOVERSION 2>/dev/null | sed -n 's/^go\([0-9][0-9.]*\).*/\1/p')
older() { # older A B: is version A before B?
	[ "$1" != "$2" ] && [ "$(printf '%s\n%s\n' "$1" "$2" | sort -t. -k1,1n -k2,2n -k3,3n | head -n 1)" = "$1" ]
}
if [ -z "$have" ]; then
	echo "$go does not say its version: crowline needs Go $needed or later, from https://go.dev/dl/. Nothing was installed." >&2
	exit 1
fi
# Go 1.21 and later fetch the toolchain that go.mod names, unless told not to.
if older "$have" 1.21 || { older "$have" "$needed" && [ "$(cd / && "$go" env GOTOOLCHAIN)" = local ]; }; then
	how="install a newer one from https://go.dev/dl/"
	older "$have" 1.21 || how="$how, or let it fetch one: go env -w GOTOOLCHAIN=auto"
	echo "crowline needs Go $needed or later, and this is Go $have: $how. Nothing was installed." >&2
	exit 1
fi
if older "$have" "$needed"; then
	echo "Go $have fetches Go $(sed -n 's/^toolchain go//p' go.mod) for this build: about 75 MB, once." >&2
fi

# --- What is missing --------------------------------------------------------

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
case $wanted in
test)
	# what the tests hold answers against
	need gdal-bin has_command gdallocationinfo
	need geographiclib-tools has_command GeodSolve
	need poppler-utils has_command pdftotext
	# what the page of the desk is tested in
	wish chromium has_browser
	;;
deb)
	# what a package is made with
	need dpkg-dev has_command dpkg-shlibdeps
	;;
esac

# --- Installing -------------------------------------------------------------

as_root=
[ "$(id -u)" = 0 ] || as_root=sudo

fetch() {
	echo "Fetching the lists of packages (about 10 MB, under a minute) ..." >&2
	testdata/patiently.sh "fetching the lists of packages" $as_root apt-get update -qq
}

# install says what comes, how large and about how long, then how far it is.
install() {
	# shellcheck disable=SC2086 # no word where there is no need of one
	plan=$(LC_ALL=C $as_root apt-get install --assume-no --no-install-recommends "$@" 2>/dev/null || true)
	size=$(echo "$plan" | sed -n 's/^Need to get \(.*\) of archives.*/\1/p')
	space=$(echo "$plan" | sed -n 's/^After this operation, \(.*\) of additional disk space.*/\1/p')
	count=$(echo "$plan" | sed -n 's/^.* \([0-9][0-9]*\) newly installed.*/\1/p')
	echo "Installing $*: ${count:-some} packages with what they need, ${size:-size unknown} to fetch, ${space:-size unknown} on disk; about 1 to 5 minutes." >&2
	log=$(mktemp)
	status=0
	{
		testdata/patiently.sh "installing" $as_root env DEBIAN_FRONTEND=noninteractive LC_ALL=C apt-get install -y -q -o Dpkg::Use-Pty=0 --no-install-recommends "$@" 2>"$log" || echo "failed" >>"$log.failed"
	} | {
		fetched=0 unpacked=0 ready=0
		while IFS= read -r line; do
			case $line in
			Get:*) fetched=$((fetched + 1)); n=$fetched what=fetched ;;
			Unpacking*) unpacked=$((unpacked + 1)); n=$unpacked what=unpacked ;;
			"Setting up"*) ready=$((ready + 1)); n=$ready what="set up" ;;
			*) continue ;;
			esac
			[ $((n % 25)) != 0 ] || echo "  $n of ${count:-the} packages $what" >&2
		done
	}
	if [ -e "$log.failed" ]; then
		sed -n 's/^E: /  /p' "$log" >&2
		status=1
	fi
	rm -f "$log" "$log.failed"
	return $status
}

by_hand() { echo "apt-get install --no-install-recommends$1"; }

if [ -n "$packages" ]; then
	if ! command -v apt-get >/dev/null 2>&1; then
		if command -v brew >/dev/null 2>&1; then
			echo "crowline needs GDAL, PROJ and pkg-config: brew install gdal proj pkg-config, then run make again." >&2
		else
			echo "crowline needs these, by their Debian names:$packages. Install them with your system's own tools and run make again." >&2
		fi
		exit 1
	fi
	if [ -n "$as_root" ] && ! command -v sudo >/dev/null 2>&1; then
		echo "Packages are missing, and you are not root and have no sudo. Have root run: $(by_hand "$packages")" >&2
		exit 1
	fi
	fetch || { echo "The lists of packages could not be fetched: is there a network? Then run make again." >&2; exit 1; }
	# shellcheck disable=SC2086 # words
	install $packages || { echo "Not everything could be installed. By hand: $(by_hand "$packages")" >&2; exit 1; }
fi

# Without what is wished for tests skip, so nothing stops here.
for package in $wished; do
	if [ -n "$as_root" ] && ! command -v sudo >/dev/null 2>&1; then
		echo "Some tests skip without the package $package. To run them, have root run: $(by_hand " $package")" >&2
		continue
	fi
	if ! { packaged "$package" || fetch; } || ! packaged "$package" || ! install "$package"; then
		echo "The package $package could not be installed: the tests that use it skip." >&2
	fi
done
