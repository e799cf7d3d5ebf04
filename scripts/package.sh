#!/usr/bin/env bash
# Build the Debian package into build/package from the release build and look it over: what the
# program needs is named, and program, man page, completion, rules and demo are in it.
#   scripts/package.sh              build and look over
#   scripts/package.sh --install    as root: install it, inspect the demo with it, take it off again
set -euo pipefail
cd "$(dirname "$0")/.."
fail() { echo "package: $*" >&2; exit 1; }

case ${1:-} in
'' | --install) ;;
*) fail "there is no $1; the only option is --install" ;;
esac
for tool in dpkg-shlibdeps file; do
  command -v $tool >/dev/null || fail "$tool is missing: scripts/setup.sh --test installs dpkg-dev and file"
done

scripts/build.sh release
out=build/package
rm -rf "$out"
mkdir -p "$out"
# from inside the build folder: cpack reads its configuration there
(cd build/release && cpack -G DEB -B "../package") >"$out/cpack.log" 2>&1 || { tail -n 20 "$out/cpack.log" >&2; fail "cpack failed"; }
deb=$(echo "$out"/plateproof_*.deb)
[ -f "$deb" ] || fail "cpack left no package; see $out/cpack.log"

depends=$(dpkg-deb -f "$deb" Depends)
for library in libc6 libopenblas0 libcsv3 libinih1 libjansson4 libsodium23 libnettle8 \
  libpangocairo-1.0-0 libcairo2 libxlsxwriter4 libmicrohttpd12 libarchive13; do
  [[ ", $depends" == *", $library"* ]] || fail "$deb does not depend on $library: $depends"
done
listing=$(dpkg-deb -c "$deb")
for file in bin/plateproof lib/plateproof/plateproof-serve.so share/man/man1/plateproof.1.gz share/doc/plateproof/copyright share/bash-completion/completions/plateproof \
  share/plateproof/rules/tema-style.ini share/plateproof/demo/clean.ini include/plateproof/plateproof.h; do
  [[ $listing == *"./usr/$file"$'\n'* || $listing == *"./usr/$file" ]] || fail "$deb lacks /usr/$file"
done

if [ "${1:-}" = --install ]; then
  ! dpkg-query -W plateproof >/dev/null 2>&1 || fail "plateproof is installed already; take it off first"
  work=$(mktemp -d)
  trap 'rm -rf "$work"; dpkg -r plateproof >/dev/null' EXIT
  dpkg -i "$deb" >/dev/null || fail "it does not install"
  /usr/bin/plateproof inspect /usr/share/plateproof/demo/clean.ini -q -o "$work/report"
  [ -s "$work/report/certificate.pdf" ] || fail "the installed program wrote no certificate"
  echo "package: installed, inspected the demo, taken off again"
fi
echo "package: $deb"
