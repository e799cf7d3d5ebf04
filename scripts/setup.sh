#!/usr/bin/env bash
# Install what building, running and testing plateproof needs on Debian 12: plain Debian packages.
#   scripts/setup.sh          what the build (tests included) and the program need
#   scripts/setup.sh --test   that, and what running all tests needs
#   scripts/setup.sh --hostile   that, and the fuzzers and analysers of scripts/hostile.sh
set -euo pipefail

build=(gcc libc6-dev cmake ninja-build pkg-config libcmocka-dev
       liblapacke-dev libopenblas-dev libcsv-dev libinih-dev libjansson-dev libsodium-dev nettle-dev
       libcairo2-dev libpango1.0-dev libfontconfig-dev libfreetype-dev libharfbuzz-dev zlib1g-dev
       libxlsxwriter-dev libsqlite3-dev libmicrohttpd-dev libarchive-dev fonts-dejavu-core)
tests=(clang libclang-rt-14-dev clang-format cppcheck parallel python3 python3-numpy python3-scipy python3-pandas
       libxml2-utils unzip poppler-utils chromium git ca-certificates dpkg-dev file)
hostile=(clang-tidy valgrind gcovr locales)

wanted=("${build[@]}")
if [ "${1:-}" = "--test" ] || [ "${1:-}" = "--hostile" ]; then
  wanted+=("${tests[@]}")
  command -v node >/dev/null || wanted+=(nodejs) # any node and npm will do
  command -v npm >/dev/null || wanted+=(npm)
fi
[ "${1:-}" != "--hostile" ] || wanted+=("${hostile[@]}")

missing=()
for package in "${wanted[@]}"; do
  dpkg-query -W -f='${Status}' "$package" 2>/dev/null | grep -q 'ok installed' || missing+=("$package")
done
if [ ${#missing[@]} -gt 0 ]; then
  as_root=()
  if [ "$(id -u)" -ne 0 ]; then
    if ! command -v sudo >/dev/null; then
      echo "setup: packages are missing and this is neither root nor a machine with sudo; as root: apt-get install ${missing[*]}" >&2
      exit 1
    fi
    as_root=(sudo)
  fi
  echo "setup: installing ${missing[*]}"
  "${as_root[@]}" apt-get update -q >/dev/null
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends \
    "${missing[@]}" >/dev/null
fi

# The browser tests drive Debian's chromium through playwright-core, and look with axe-core for what keeps people
# out; both come from npm.
browser=$(cd "$(dirname "$0")/.." && pwd)/tests/browser
if [ "${1:-}" = "--test" ] && [ -f "$browser/package.json" ] &&
   { [ ! -d "$browser/node_modules/playwright-core" ] || [ ! -d "$browser/node_modules/axe-core" ]; }; then
  (cd "$browser" && npm install --no-package-lock --no-audit --no-fund --silent) ||
    echo "setup: playwright-core and axe-core could not be installed; the browser tests will be skipped"
fi
