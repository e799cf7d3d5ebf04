#include "rules/findings.h"

const char *pp_verdict_words(pp_verdict verdict)
{
    switch (verdict) {
    case PP_NOT_JUDGED:
        return "not judged";
    case PP_CONFORMS:
        return "conforms";
    case PP_NOT_PROVEN:
        return "not proven";
    case PP_DOES_NOT_CONFORM:
        return "does not conform";
    }
    return "";
}

const char *pp_verdict_class(pp_verdict verdict)
{
    switch (verdict) {
    case PP_CONFORMS:
        return "in";
    case PP_DOES_NOT_CONFORM:
        return "out";
    case PP_NOT_PROVEN:
        return "not proven";
    case PP_NOT_JUDGED:
        break;
    }
    return "";
}

static const char *or_else(const char *words, const char *usual) { return words ? words : usual; }

const char *pp_class_words(pp_characteristic which, pp_class class_)
{
    switch (class_) {
    case PP_CLASS_NONE:
        return "";
    case PP_CLASS_IN:
        return or_else(pp_characteristic_of((int)which)->in, "in");
    case PP_CLASS_REMAINDER:
        return "in remainder";
    case PP_CLASS_UNDER:
        return "undersize";
    case PP_CLASS_OUT:
        return or_else(pp_characteristic_of((int)which)->out, "out");
    }
    return "";
}
