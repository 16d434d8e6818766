#!/bin/sh
# patiently.sh WHAT COMMAND... runs a command, and says every half minute that it
# is still at it, so that nobody takes a long silence for the end.
set -u
what=$1
shift
(
	seconds=0
	while sleep 30; do
		seconds=$((seconds + 30))
		echo "  still $what ($seconds s)" >&2
	done
) &
ticker=$!
trap 'kill "$ticker" 2>/dev/null' EXIT
"$@"
status=$?
kill "$ticker" 2>/dev/null
exit $status
