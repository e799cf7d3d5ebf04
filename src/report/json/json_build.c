#include "report/json/json_build.h"

#include <math.h>

void pp_json_put(pp_json_builder *b, json_t *object, const char *key, json_t *value)
{
    if (!value || json_object_set_new(object, key, value) != 0) b->failed = true;
}

static json_t *real(double value)
{
    return isfinite(value) ? json_real(value + 0.0) : json_null(); /* -0 + 0 is 0 */
}

/* Names are checked for UTF-8 when read; a text that is none shows where it went wrong. */
static json_t *text_or_null(const char *value)
{
    if (!value) return json_null();
    json_t *text = json_string(value);
    return text ? text : json_string("(not UTF-8)");
}

void pp_json_real(pp_json_builder *b, json_t *object, const char *key, double value)
{
    pp_json_put(b, object, key, real(value));
}

void pp_json_reals(pp_json_builder *b, json_t *object, size_t count, const pp_named_real *reals)
{
    for (size_t i = 0; i < count; i++) pp_json_real(b, object, reals[i].key, reals[i].value);
}

void pp_json_count(pp_json_builder *b, json_t *object, const char *key, size_t value)
{
    pp_json_put(b, object, key, json_integer((json_int_t)value));
}

void pp_json_flag(pp_json_builder *b, json_t *object, const char *key, bool value)
{
    pp_json_put(b, object, key, json_boolean(value));
}

void pp_json_text(pp_json_builder *b, json_t *object, const char *key, const char *value)
{
    pp_json_put(b, object, key, text_or_null(value));
}

json_t *pp_json_object(pp_json_builder *b, json_t *object, const char *key)
{
    json_t *value = json_object();
    pp_json_put(b, object, key, value);
    return value;
}

json_t *pp_json_array(pp_json_builder *b, json_t *object, const char *key)
{
    json_t *value = json_array();
    pp_json_put(b, object, key, value);
    return value;
}

void pp_json_append(pp_json_builder *b, json_t *array, json_t *value)
{
    if (!value || json_array_append_new(array, value) != 0) b->failed = true;
}

void pp_json_append_real(pp_json_builder *b, json_t *array, double value)
{
    pp_json_append(b, array, real(value));
}

void pp_json_append_text(pp_json_builder *b, json_t *array, const char *value)
{
    pp_json_append(b, array, text_or_null(value));
}

json_t *pp_json_append_object(pp_json_builder *b, json_t *array)
{
    json_t *value = json_object();
    pp_json_append(b, array, value);
    return value;
}

const char *pp_json_laid_words(pp_laid laid)
{
    switch (laid) {
    case PP_LAID_ON_SUPPORTS:
        return "on-supports";
    case PP_LAID_ON_THREE_POINTS:
        return "on-three-points";
    case PP_LAID_FREE:
        return "free";
    }
    return "";
}
