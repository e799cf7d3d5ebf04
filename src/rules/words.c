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

const char *pp_characteristic_words(pp_characteristic which)
{
    switch (which) {
    case PP_FLATNESS:
        return "flatness";
    case PP_STRAIGHTEDGE:
        return "straightedge";
    case PP_PARALLELISM:
        return "parallelism";
    case PP_POSITION:
        return "position";
    case PP_PATTERN_POSITION:
        return "pattern position";
    case PP_DIAMETER:
        return "diameter";
    case PP_LIGAMENT:
        return "ligament";
    case PP_EDGE:
        return "edge";
    case PP_DRIFT:
        return "drift";
    case PP_OTHER_LIGAMENT:
        return "other ligament";
    case PP_CHECK:
        return "check";
    case PP_EXTRA_HOLE:
        return "extra hole";
    case PP_DOUBLY_CLAIMED:
        return "doubly claimed";
    case PP_MISDRILLED:
        return "misdrilled";
    case PP_CHARACTERISTICS:
        break;
    }
    return "";
}

const char *pp_class_words(pp_characteristic which, pp_class class_)
{
    switch (class_) {
    case PP_CLASS_NONE:
        return "";
    case PP_CLASS_IN:
        return which == PP_LIGAMENT ? "standard" : which == PP_DIAMETER ? "in tolerance" : "in";
    case PP_CLASS_REMAINDER:
        return "in remainder";
    case PP_CLASS_UNDER:
        return "undersize";
    case PP_CLASS_OUT:
        return which == PP_LIGAMENT ? "thin" : which == PP_DIAMETER ? "oversize" : "out";
    }
    return "";
}
