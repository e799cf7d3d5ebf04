#include "base/outline.h"

#include <math.h>

double pp_outline_margin(pp_outline_spec outline, double x, double y)
{
    double dx = x - outline.centre_x, dy = y - outline.centre_y;
    switch (outline.kind) {
    case PP_OUTLINE_DISC:
        return outline.diameter / 2 - hypot(dx, dy);
    case PP_OUTLINE_RECTANGLE:
        return fmin(outline.width / 2 - fabs(dx), outline.height / 2 - fabs(dy));
    case PP_OUTLINE_NONE:
        return NAN;
    }
    return NAN;
}

double pp_outline_beyond(pp_outline_spec outline, double x, double y)
{
    double dx = x - outline.centre_x, dy = y - outline.centre_y;
    switch (outline.kind) {
    case PP_OUTLINE_DISC:
        return hypot(dx, dy) - outline.diameter / 2;
    case PP_OUTLINE_RECTANGLE: {
        double ox = fabs(dx) - outline.width / 2, oy = fabs(dy) - outline.height / 2;
        return ox <= 0 || oy <= 0 ? fmax(ox, oy) : hypot(ox, oy);
    }
    case PP_OUTLINE_NONE:
        return NAN;
    }
    return NAN;
}

double pp_outline_size(pp_outline_spec outline)
{
    switch (outline.kind) {
    case PP_OUTLINE_DISC:
        return outline.diameter;
    case PP_OUTLINE_RECTANGLE:
        return fmax(outline.width, outline.height);
    case PP_OUTLINE_NONE:
        return NAN;
    }
    return NAN;
}
