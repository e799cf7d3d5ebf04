# cmake --install: program, library, headers, rule data, man page, completion, package files.
include(CMakePackageConfigHelpers)

set_target_properties(plateproof PROPERTIES VERSION ${PROJECT_VERSION}
                      SOVERSION ${PROJECT_VERSION_MAJOR}.${PROJECT_VERSION_MINOR})
install(TARGETS plateproof EXPORT plateproof-targets
        ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}
        LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR}
        INCLUDES DESTINATION ${CMAKE_INSTALL_INCLUDEDIR})
install(TARGETS plateproof_options EXPORT plateproof-targets)
install(TARGETS plateproof_program RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(TARGETS plateproof_serve_module LIBRARY DESTINATION ${CMAKE_INSTALL_LIBDIR}/plateproof)
install(DIRECTORY include/plateproof DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} FILES_MATCHING PATTERN "*.h")
install(DIRECTORY data/rules DESTINATION ${CMAKE_INSTALL_DATADIR}/plateproof)
install(DIRECTORY data/demo data/demo-stack data/demo-bundle DESTINATION ${CMAKE_INSTALL_DATADIR}/plateproof)
install(FILES README.md CHANGELOG.md LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES cmake/copyright DESTINATION ${CMAKE_INSTALL_DOCDIR})
# packages want man pages compressed, the same bytes each time
add_custom_command(OUTPUT ${PROJECT_BINARY_DIR}/plateproof.1.gz
  COMMAND gzip -9nc ${PROJECT_SOURCE_DIR}/docs/plateproof.1 > ${PROJECT_BINARY_DIR}/plateproof.1.gz
  DEPENDS docs/plateproof.1)
add_custom_target(man_page ALL DEPENDS ${PROJECT_BINARY_DIR}/plateproof.1.gz)
install(FILES ${PROJECT_BINARY_DIR}/plateproof.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES scripts/completion.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions
        RENAME plateproof)

set(package_dir ${CMAKE_INSTALL_LIBDIR}/cmake/plateproof)
install(EXPORT plateproof-targets NAMESPACE plateproof:: DESTINATION ${package_dir})
configure_package_config_file(cmake/plateproof-config.cmake.in
  ${PROJECT_BINARY_DIR}/plateproof-config.cmake INSTALL_DESTINATION ${package_dir})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/plateproof-config-version.cmake
  COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/plateproof-config.cmake
              ${PROJECT_BINARY_DIR}/plateproof-config-version.cmake DESTINATION ${package_dir})

list(JOIN PLATEPROOF_MODULES " " PLATEPROOF_PC_REQUIRES)
string(REGEX REPLACE ">=" " >= " PLATEPROOF_PC_REQUIRES "${PLATEPROOF_PC_REQUIRES}")
# Who links the static library links what it was built on, whatever they link of it statically: with
# --static pkg-config would ask for the private libraries of OpenBLAS too, a Fortran compiler's.
get_target_property(plateproof_kind plateproof TYPE)
if(plateproof_kind STREQUAL "STATIC_LIBRARY")
  set(PLATEPROOF_PC_PRIVATE "")
  set(PLATEPROOF_PC_LIBS " -lcsv -lm -pthread")
  set(PLATEPROOF_PC_LIBS_PRIVATE "")
else()
  set(PLATEPROOF_PC_PRIVATE ".private")
  set(PLATEPROOF_PC_LIBS "")
  set(PLATEPROOF_PC_LIBS_PRIVATE "-lcsv -lm -pthread")
endif()
configure_file(cmake/plateproof.pc.in ${PROJECT_BINARY_DIR}/plateproof.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/plateproof.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_VENDOR "the plateproof developers")
set(CPACK_PACKAGE_CONTACT "the plateproof developers <developers@plateproof.invalid>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY ${PROJECT_DESCRIPTION})
string(CONCAT CPACK_PACKAGE_DESCRIPTION
  "From a survey of a large, thin plate it tells how far from flat the plate is and where it needs\n"
  "hold-down before drilling; from the measured holes, whether size, place and metal left are within\n"
  "TEMA-style rules. It writes a report and a certificate that can be recomputed and signed.\n"
  "The library with headers is in the package too.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS libxlsxwriter4) # loaded by name, which shlibdeps does not see
string(CONCAT CPACK_DEBIAN_PACKAGE_SUGGESTS # to link the library
  "liblapacke-dev, libopenblas-dev, libcsv-dev, libinih-dev, libjansson-dev, libsodium-dev, nettle-dev, "
  "libcairo2-dev, libpango1.0-dev, libfontconfig-dev, libfreetype-dev, libharfbuzz-dev, zlib1g-dev, "
  "libsqlite3-dev")
set(CPACK_STRIP_FILES ON)
include(CPack)
