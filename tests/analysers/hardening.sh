#!/usr/bin/env bash
# The hardening a release build should have, read from the program itself: hardening.sh PROGRAM
# Prints one line a check and "N hardening checks, N missing".
set -uo pipefail
program=$1 tried=0 missing=0
has() {
  tried=$((tried + 1))
  if ! eval "$2"; then
    echo "hardening: $1: missing"
    missing=$((missing + 1))
  fi
}
headers=$(readelf -hlW "$program") dynamic=$(readelf -dW "$program") symbols=$(readelf --dyn-syms -W "$program")
has "position-independent program" 'grep -q "Type:.*DYN" <<<"$headers" && grep -q "FLAGS_1.*PIE" <<<"$dynamic"'
has "relocations read-only" 'grep -q GNU_RELRO <<<"$headers"'
has "all symbols bound at the start" 'grep -q BIND_NOW <<<"$dynamic"'
has "stack not executable" 'grep -q "GNU_STACK.* RW " <<<"$headers"'
has "no text relocations" '! grep -q TEXTREL <<<"$dynamic"'
has "library paths of the system only" '! grep -E "RPATH|RUNPATH" <<<"$dynamic" | grep -qvE "\[(/usr/[^]:]*:?)+\]"'
has "stack protector" 'grep -q __stack_chk_fail <<<"$symbols"'
has "checked string functions" 'grep -qE "__(memcpy|snprintf|vsnprintf|memset|strcat|strcpy)_chk" <<<"$symbols"'
has "no segment both writable and executable" '! grep -E "LOAD" <<<"$headers" | grep -q RWE'
echo "$tried hardening checks, $missing missing"
[ "$missing" -eq 0 ]
