# Every dependency is a plain Debian package; docs/decisions says why each is there.
find_package(PkgConfig REQUIRED)
find_package(Threads REQUIRED)

# One pkg-config module a line; the installed package looks for the same ones.
set(PLATEPROOF_MODULES
  lapacke
  openblas
  inih
  jansson>=2.14
  libsodium
  nettle
  pangocairo
  cairo-pdf
  pangoft2
  fontconfig
  freetype2
  harfbuzz
  zlib
  sqlite3>=3.37
  xlsxwriter
)
set(PLATEPROOF_LIBRARIES)
foreach(module ${PLATEPROOF_MODULES})
  string(REGEX REPLACE "[><=].*" "" name ${module})
  pkg_check_modules(${name} REQUIRED IMPORTED_TARGET ${module})
  list(APPEND PLATEPROOF_LIBRARIES PkgConfig::${name})
endforeach()

find_path(LIBCSV_INCLUDE_DIR csv.h REQUIRED) # libcsv ships no .pc file
find_library(LIBCSV_LIBRARY csv REQUIRED)
set(PLATEPROOF_INCLUDES ${LIBCSV_INCLUDE_DIR})
list(APPEND PLATEPROOF_LIBRARIES ${LIBCSV_LIBRARY} Threads::Threads m)

# what the program alone needs, for `plateproof serve`
pkg_check_modules(libmicrohttpd REQUIRED IMPORTED_TARGET libmicrohttpd>=0.9.71)
pkg_check_modules(libarchive REQUIRED IMPORTED_TARGET libarchive)
set(PLATEPROOF_SERVE_LIBRARIES PkgConfig::libmicrohttpd PkgConfig::libarchive)
