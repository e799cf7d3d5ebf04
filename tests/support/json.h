/* Numbers out of expected.json. */
#ifndef PP_TESTS_JSON_H
#define PP_TESTS_JSON_H

#include <jansson.h>

#include "support/check.h"

static inline double json_number_at(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value)) print_error("no number %s\n", key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

#endif
