/* What every fuzz target gives and uses. */
#ifndef PP_TESTS_FUZZ_TARGET_H
#define PP_TESTS_FUZZ_TARGET_H

#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Stop, so that the fuzzer keeps the input. */
#define FUZZ_CHECK(condition)                                                                      \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "%s:%d: not so: %s\n", __FILE__, __LINE__, #condition);                \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

#endif
