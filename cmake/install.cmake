install(DIRECTORY data/rules DESTINATION ${CMAKE_INSTALL_DATADIR}/plateproof)
