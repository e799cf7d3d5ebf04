# Compiler flags shared by library, program and tests. Not installed.
add_library(plateproof_options INTERFACE)
target_compile_definitions(plateproof_options INTERFACE _GNU_SOURCE)
target_compile_options(plateproof_options INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wpointer-arith -Wcast-qual -Wwrite-strings -Wstrict-prototypes
  -Wmissing-prototypes -Wvla -Wformat=2 -Wundef -Wno-format-nonliteral
  # the same sums on every compiler: no fused or re-associated arithmetic
  -ffp-contract=off -fno-math-errno)
if(CMAKE_C_COMPILER_ID STREQUAL "GNU")
  # gcc cannot see that an output is set whenever PP_OK is returned; valgrind and clang-tidy watch
  target_compile_options(plateproof_options INTERFACE -Wno-maybe-uninitialized)
endif()
if(PLATEPROOF_WERROR)
  target_compile_options(plateproof_options INTERFACE -Werror)
endif()
if(PLATEPROOF_SANITIZE)
  target_compile_options(plateproof_options INTERFACE
    -fsanitize=${PLATEPROOF_SANITIZE} -fno-sanitize-recover=all -fno-omit-frame-pointer)
  target_compile_definitions(plateproof_options INTERFACE PLATEPROOF_SANITIZED)
  target_link_options(plateproof_options INTERFACE -fsanitize=${PLATEPROOF_SANITIZE})
endif()
if(PLATEPROOF_COVERAGE)
  target_compile_options(plateproof_options INTERFACE --coverage)
  target_link_options(plateproof_options INTERFACE --coverage)
endif()
if(CMAKE_BUILD_TYPE STREQUAL "Release" OR CMAKE_BUILD_TYPE STREQUAL "RelWithDebInfo")
  target_compile_options(plateproof_options INTERFACE
    -fstack-protector-strong -fstack-clash-protection -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2)
  target_link_options(plateproof_options INTERFACE -Wl,-z,relro,-z,now)
endif()
if(PLATEPROOF_FUZZ)
  target_compile_options(plateproof_options INTERFACE -fsanitize=fuzzer-no-link)
endif()
