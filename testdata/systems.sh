#!/bin/bash
# systems.sh [bookworm] [trixie] [noble] runs make demo and make test in clean
# roots of Debian 12, Debian 13 and Ubuntu 24.04, each with what the system
# itself brings, make, and this machine's Go. Run it as root; it needs
# debootstrap. It prints one line for each, and leaves what was shown beside the
# roots. It tests what is committed.
#
#   ROOTS           folder of the roots; a root that is there is used again
#                   (default: /tmp/crowline-systems)
#   DEBIAN_MIRROR   where the packages come from (default: debootstrap's own)
#   UBUNTU_MIRROR
#   TARGETS         what is made (default: demo test)
set -uo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
roots=${ROOTS:-/tmp/crowline-systems}
targets=${TARGETS:-demo test}
goroot=$(cd "$here" && go env GOROOT)
modules=$(cd "$here" && go env GOMODCACHE)
proxy=$(cd "$here" && go env GOPROXY)
mkdir -p "$roots"

# An older debootstrap does not know the newer systems by name; they are laid
# down as those before them.
scripts=$(mktemp -d)
trap 'rm -rf "$scripts"' EXIT
cp -r /usr/share/debootstrap/. "$scripts"
[ -e "$scripts/scripts/noble" ] || ln -s gutsy "$scripts/scripts/noble"
[ -e "$scripts/scripts/trixie" ] || ln -s sid "$scripts/scripts/trixie"
export DEBOOTSTRAP_DIR=$scripts

lay() { # lay SUITE ROOT
	local components=main mirror=${DEBIAN_MIRROR:-} unchecked=()
	if [ "$1" = noble ]; then
		components=main,universe mirror=${UBUNTU_MIRROR:-}
		# Debian has not got Ubuntu's keys. The root has, so what is installed
		# in it is checked.
		[ -e /usr/share/keyrings/ubuntu-archive-keyring.gpg ] || unchecked=(--no-check-gpg)
	fi
	# shellcheck disable=SC2086 # no word where no mirror is named
	debootstrap "${unchecked[@]}" --variant=minbase --components=$components \
		--include=make,ca-certificates "$1" "$2" $mirror
}

make_in() { # make_in ROOT TARGET
	mkdir -p "$1"/{proc,dev,usr/local/go,gomod,src}
	# in a mount namespace of its own: nothing stays mounted, however it ends
	unshare --mount --fork --pid bash -c '
		set -e
		root=$1 goroot=$2 modules=$3
		mount -t proc proc "$root/proc"
		mount --bind /dev "$root/dev"
		mount --bind "$goroot" "$root/usr/local/go"
		mount --bind "$modules" "$root/gomod"
		cp -L /etc/resolv.conf "$root/etc/resolv.conf"
		[ ! -e /etc/hosts ] || cp -L /etc/hosts "$root/etc/hosts"
		exec chroot "$root" /usr/bin/env -i HOME=/root PATH=/usr/local/go/bin:/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 \
			GOMODCACHE=/gomod GOPROXY="$5" GOFLAGS="${6:-}" sh -c "cd /src && make $4"
	' - "$1" "$goroot" "$modules" "$2" "$proxy" "${SYSTEMS_GOFLAGS:-}"
}

failed=0
[ $# -gt 0 ] || set -- bookworm trixie noble
for suite; do
	root=$roots/$suite log=$roots/$suite.log
	: >"$log"
	if [ ! -e "$root/usr/bin/make" ]; then
		if ! lay "$suite" "$root" >>"$log" 2>&1; then
			echo "$suite: no root could be laid: $(tail -n 1 "$log")"
			failed=1
			continue
		fi
	fi
	rm -rf "$root/src"
	mkdir -p "$root/src"
	git -C "$here" archive HEAD | tar -x -C "$root/src"
	for target in $targets; do
		started=$SECONDS
		if make_in "$root" "$target" >>"$log" 2>&1; then
			echo "$suite: make $target passed in $((SECONDS - started)) s"
		else
			echo "$suite: make $target FAILED after $((SECONDS - started)) s; see $log"
			failed=1
		fi
	done
done
exit $failed
