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
  add_custom_command(
    OUTPUT ${out}
    COMMAND ${CMAKE_COMMAND} -DOUT=${out} -DPREFIX=${prefix} "-DFILES=${joined}" -P ${PLATEPROOF_EMBED_SCRIPT}
    DEPENDS ${paths} ${PLATEPROOF_EMBED_SCRIPT}
    VERBATIM)
  target_sources(${target} PRIVATE ${out})
endfunction()
