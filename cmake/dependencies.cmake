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
)
set(PLATEPROOF_LIBRARIES)
# A few thin calls of LAPACKE are used. Its shared library brings three more with it, a second BLAS and LAPACK among them,
# which every start of the program would load and bind though none of it is called: OpenBLAS has both.
find_library(PLATEPROOF_LAPACKE_ARCHIVE NAMES liblapacke.a)
foreach(module ${PLATEPROOF_MODULES})
  string(REGEX REPLACE "[><=].*" "" name ${module})
  pkg_check_modules(${name} REQUIRED IMPORTED_TARGET ${module})
  if(name STREQUAL "lapacke" AND PLATEPROOF_LAPACKE_ARCHIVE AND NOT BUILD_SHARED_LIBS)
    list(APPEND PLATEPROOF_LIBRARIES $<BUILD_INTERFACE:${PLATEPROOF_LAPACKE_ARCHIVE}> $<INSTALL_INTERFACE:PkgConfig::lapacke>)
  else()
    list(APPEND PLATEPROOF_LIBRARIES PkgConfig::${name})
  endif()
endforeach()

find_path(LIBCSV_INCLUDE_DIR csv.h REQUIRED) # libcsv ships no .pc file
find_library(LIBCSV_LIBRARY csv REQUIRED)
set(PLATEPROOF_INCLUDES ${LIBCSV_INCLUDE_DIR})
list(APPEND PLATEPROOF_LIBRARIES ${LIBCSV_LIBRARY} Threads::Threads ${CMAKE_DL_LIBS} m)

# loaded by name where a spreadsheet is written (src/report/tables/xlsx_library.h); to be found and read here
pkg_check_modules(xlsxwriter REQUIRED xlsxwriter)
find_library(PLATEPROOF_XLSX xlsxwriter HINTS ${xlsxwriter_LIBRARY_DIRS} REQUIRED)
file(REAL_PATH ${PLATEPROOF_XLSX} PLATEPROOF_XLSX_LIBRARY)
get_filename_component(PLATEPROOF_XLSX_LIBRARY ${PLATEPROOF_XLSX_LIBRARY} NAME)
list(APPEND PLATEPROOF_INCLUDES ${xlsxwriter_INCLUDE_DIRS})

# what the program alone needs, for `plateproof serve`
pkg_check_modules(libmicrohttpd REQUIRED IMPORTED_TARGET libmicrohttpd>=0.9.71)
pkg_check_modules(libarchive REQUIRED IMPORTED_TARGET libarchive)
set(PLATEPROOF_SERVE_LIBRARIES PkgConfig::libmicrohttpd PkgConfig::libarchive)
