#!/bin/sh
# Fuzzes every target in the module for the time given, one after the other,
# and fails at the end if any failed. With "list" it only names them.
set -eu
each=${1:-30s}
failed=
for folder in $(grep -rl --include='*_test.go' '^func Fuzz' . | xargs -n1 dirname | sort -u); do
	for target in $(cat "$folder"/*_test.go | sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' | sort -u); do
		echo "== $folder $target"
		[ "$each" = list ] ||
			go test "$folder" -run '^$' -fuzz "^$target\$" -fuzztime "$each" -fuzzminimizetime 1x ||
			failed="$failed $target"
	done
done
if [ -n "$failed" ]; then
	echo "failed:$failed" >&2
	exit 1
fi
