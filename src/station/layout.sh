#!/bin/sh
# layout.sh AWK OUTPUT READELF COMPILER FLAG...: how the compiler lays the station's state out, as rows that layout.c
# includes, with a digest over them: struct by struct each field's name, place, size and kind, each number of an enum,
# and the machine's order of bytes. A comment or a function that changes leaves it as it was; a field that moves does
# not.
set -e
awk=$1 output=$2 readelf=$3
shift 3
"$@" -g -gdwarf-4 -o "$output.o"
"$readelf" -h "$output.o" | sed -n 's/^ *\(Class\|Data\|Machine\): *\(.*\)/\/* \1: \2 *\//p' >"$output.rows"
"$readelf" --debug-dump=info "$output.o" | awk -f "$awk" >>"$output.rows"
printf 'DIGEST("%.16s")\n' "$(sha256sum "$output.rows")" >"$output.digest"
cat "$output.digest" "$output.rows" >"$output"
