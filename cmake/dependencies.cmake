# Every dependency is a plain Debian package; docs/decisions says why each is there.
find_package(PkgConfig REQUIRED)
find_package(Threads REQUIRED)
pkg_check_modules(lapacke REQUIRED IMPORTED_TARGET lapacke)
pkg_check_modules(openblas REQUIRED IMPORTED_TARGET openblas)
pkg_check_modules(inih REQUIRED IMPORTED_TARGET inih)
pkg_check_modules(jansson REQUIRED IMPORTED_TARGET jansson>=2.14)
pkg_check_modules(sodium REQUIRED IMPORTED_TARGET libsodium)
pkg_check_modules(nettle REQUIRED IMPORTED_TARGET nettle)
pkg_check_modules(pangocairo REQUIRED IMPORTED_TARGET pangocairo cairo-pdf)
pkg_check_modules(xlsxwriter REQUIRED IMPORTED_TARGET xlsxwriter)
find_path(LIBCSV_INCLUDE_DIR csv.h REQUIRED) # libcsv ships no .pc file
find_library(LIBCSV_LIBRARY csv REQUIRED)

set(PLATEPROOF_INCLUDES ${LIBCSV_INCLUDE_DIR})
set(PLATEPROOF_LIBRARIES
    PkgConfig::lapacke PkgConfig::openblas PkgConfig::inih PkgConfig::jansson PkgConfig::sodium PkgConfig::nettle
    PkgConfig::pangocairo PkgConfig::xlsxwriter ${LIBCSV_LIBRARY} Threads::Threads m)
