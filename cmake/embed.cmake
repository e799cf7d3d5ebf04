# plateproof_embed(target out_name prefix FILES...): build the bytes of files into the library.
#
# Generates <out_name>.c with, in the order given,
#   const pp_embedded_file <prefix>_files[];   {name, bytes, length}, bytes end with a zero
#   const size_t <prefix>_file_count;
# which "base/embedded.h" declares the type of.
set(PLATEPROOF_EMBED_SCRIPT ${CMAKE_CURRENT_LIST_DIR}/embed_script.cmake)

function(plateproof_embed target out_name prefix)
  set(out ${PROJECT_BINARY_DIR}/generated/${out_name}.c)
  set(paths)
  foreach(file ${ARGN})
    list(APPEND paths ${CMAKE_CURRENT_SOURCE_DIR}/${file})
  endforeach()
  string(REPLACE ";" "|" joined "${paths}")
  # at configure time: a custom command would belong to this folder, the library to another
  execute_process(
    COMMAND ${CMAKE_COMMAND} -DOUT=${out} -DPREFIX=${prefix} "-DFILES=${joined}" -P ${PLATEPROOF_EMBED_SCRIPT}
    COMMAND_ERROR_IS_FATAL ANY)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${paths} ${PLATEPROOF_EMBED_SCRIPT})
  target_sources(${target} PRIVATE ${out})
endfunction()
