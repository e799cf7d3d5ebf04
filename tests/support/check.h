/* Test helpers: cmocka plus a comparison of doubles in full precision. */
#ifndef PP_TESTS_CHECK_H
#define PP_TESTS_CHECK_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "base/memory.h"

/* |got - want| <= tolerance, printing all three when it fails (cmocka's own compares floats). */
#define assert_near(got, want, tolerance)                                                          \
    do {                                                                                           \
        double got_ = (got), want_ = (want), tolerance_ = (tolerance);                             \
        if (!(fabs(got_ - want_) <= tolerance_)) {                                                 \
            print_error("%s: got %.17g, want %.17g, off by %.3g, tolerance %.3g\n", #got, got_,    \
                        want_, got_ - want_, tolerance_);                                          \
            _fail(__FILE__, __LINE__);                                                             \
        }                                                                                          \
    } while (0)

/* The step succeeded, or print its message. */
#define assert_ok(step, error)                                                                     \
    do {                                                                                           \
        if ((step) != PP_OK) {                                                                     \
            print_error("%s: %s\n", #step, (error)->message);                                      \
            _fail(__FILE__, __LINE__);                                                             \
        }                                                                                          \
    } while (0)

#endif
