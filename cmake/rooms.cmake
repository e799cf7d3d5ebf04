# plateproof_room(ROOM [NUMERICAL] [PROGRAM] [MAY_USE rooms...] SOURCES files...): one folder of src as an object library.
#
# A room sees its own headers, those of the rooms it names, and the installed interface, through a
# folder of links of its own: an include of any other room finds no file. MAY_USE is therefore the
# list of arrows that leave the room; tests/docs/rooms.py draws them and fails on a circle.
function(plateproof_room room)
  cmake_parse_arguments(PARSE_ARGV 1 ROOM "NUMERICAL;PROGRAM" "" "MAY_USE;SOURCES")
  string(REPLACE "/" "_" target plateproof_${room})
  add_library(${target} OBJECT ${ROOM_SOURCES})
  # what a number loses on its way is said by a cast
  target_compile_options(${target} PRIVATE -Wconversion -Wsign-conversion)
  plateproof_doors(${target} ${room} ${ROOM_MAY_USE})
  if(PLATEPROOF_FUZZ AND ROOM_NUMERICAL) # following every comparison of two numbers makes the equations ten times as slow
    target_compile_options(${target} PRIVATE -fno-sanitize-coverage=trace-cmp)
  endif()
  if(NOT ROOM_PROGRAM) # of the program alone: whoever links the library needs nothing of it
    target_sources(plateproof PRIVATE $<TARGET_OBJECTS:${target}>)
  endif()
endfunction()

# plateproof_doors(TARGET rooms...): the include path of a target: these rooms and nothing else of src.
function(plateproof_doors target)
  set(doors ${PROJECT_BINARY_DIR}/rooms/${target})
  file(REMOVE_RECURSE ${doors})
  foreach(room ${ARGN})
    get_filename_component(folder ${doors}/${room} DIRECTORY)
    file(MAKE_DIRECTORY ${folder})
    file(CREATE_LINK ${PROJECT_SOURCE_DIR}/src/${room} ${doors}/${room} SYMBOLIC)
  endforeach()
  target_link_libraries(${target} PRIVATE plateproof_options ${PLATEPROOF_LIBRARIES})
  target_include_directories(${target} PRIVATE
    ${PROJECT_SOURCE_DIR}/include ${doors} ${PLATEPROOF_INCLUDES})
endfunction()
