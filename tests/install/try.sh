#!/usr/bin/env bash
# Install into a folder of its own and build the example against it, by CMake and by pkg-config; a
# version too high is refused.
set -eu
build=$1 source=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
fail() { echo "failed: $*"; exit 1; }

cmake --install "$build" --prefix "$work/root" >/dev/null
cmake -S "$source" -B "$work/by-cmake" -DCMAKE_PREFIX_PATH="$work/root" -DWANTED=0.1 >/dev/null
cmake --build "$work/by-cmake" >/dev/null
"$work/by-cmake/example" | tee "$work/said" | grep -q '3 ligaments, smallest .* conforms' || fail "the example said: $(cat "$work/said")"

if cmake -S "$source" -B "$work/too-high" -DCMAKE_PREFIX_PATH="$work/root" -DWANTED=99.0 >/dev/null 2>&1; then
  fail "a version too high was accepted"
fi

export PKG_CONFIG_PATH="$work/root/lib/pkgconfig:$(echo "$work"/root/lib/*/pkgconfig)"
# shellcheck disable=SC2046
${CC:-cc} -std=c17 "$source/example.c" -o "$work/by-pkg-config" \
  $(pkg-config --define-variable=prefix="$work/root" --cflags --libs plateproof)
"$work/by-pkg-config" | grep -q conforms || fail "built by pkg-config it does not run"

# the manual's example, as it stands there
sed -n '/^```c$/,/^```$/p' "$source/../../docs/manual/library.md" | grep -v '^```' >"$work/inspect.c"
# shellcheck disable=SC2046
${CC:-cc} -std=c17 -Wall -Werror "$work/inspect.c" -o "$work/inspect" \
  $(pkg-config --define-variable=prefix="$work/root" --cflags --libs plateproof)
"$work/inspect" "$work/root/share/plateproof/demo/clean.ini" "$work/by-library" | grep -q '"verdict": "conforms"' \
  || fail "the manual's example did not judge the demo"
[ -s "$work/by-library/report.html" ] || fail "the manual's example wrote no report"

"$work/root/bin/plateproof" holes "$work/root/share/plateproof/demo/clean.ini" -q -o "$work/report"
[ -s "$work/report/certificate.pdf" ] || fail "the installed program wrote no certificate"

# the part that only `serve` loads is found from where the program is, and missed by name
mkdir "$work/shown"
"$work/root/bin/plateproof" serve "$work/shown" --idle-exit 0.01 | grep -q 'http://127.0.0.1' || fail "the installed program does not serve"
find "$work/root" -name plateproof-serve.so -delete
status=0
"$work/root/bin/plateproof" serve "$work/shown" --idle-exit 0.01 2>"$work/said" || status=$?
[ "$status" -eq 3 ] && grep -q 'plateproof-serve.so' "$work/said" || fail "without its module, serve ended with $status: $(cat "$work/said")"
echo "the installed package works"
