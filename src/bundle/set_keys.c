#include "bundle/set_keys.h"

#include "bundle/set.h"

/* A table reads best as laid out by hand. */
/* clang-format off */
#define ANY {-INFINITY, INFINITY, false, false}
#define ABOVE_ZERO {0, INFINITY, true, false}
#define FROM_ZERO {0, INFINITY, false, false}
#define FRICTION_RANGE {0, 2, false, false}
#define SHARE_RANGE {0, 1, true, false}
#define MODULUS_RANGE {1000, 1e6, false, false}
#define STRENGTH_RANGE {10, 5000, false, false}
#define TURN_RANGE {-360, 360, false, false}
#define SMALL_TURN_RANGE {0, 5, false, false}
#define SET(member) offsetof(pp_set, member)
#define PLATE(member) offsetof(pp_set_plate, member)

#define TEXT(section, key, at, example, help)                                                      \
    {section, key, PP_KEY_TEXT, at, PP_NUMBER, ANY, {{0}}, NULL, example, help}
#define FILE_OF(section, key, at, example, help)                                                   \
    {section, key, PP_KEY_FILE, at, PP_NUMBER, ANY, {{0}}, NULL, example, help}
#define REAL(section, key, at, quantity, range, standard, example, help)                           \
    {section, key, PP_KEY_REAL, at, quantity, range, {{0}}, standard, example, help}
#define CHOICE(section, key, at, standard, help, ...)                                              \
    {section, key, PP_KEY_CHOICE, at, PP_NUMBER, ANY, {__VA_ARGS__}, standard, NULL, help}

static const pp_key keys[] = {
    TEXT("bundle", "title", SET(title), "exchanger E-12", "what the bundle is called"),
    {"bundle", "units", PP_KEY_UNITS, SET(units), PP_NUMBER, ANY, {{0}}, "mm", "mm",
     "unit of bare lengths in this file, and of the report: mm or inch"},
    CHOICE("bundle", "match", SET(match), "names", "how the holes of a tube find each other",
           {"names", PP_MATCH_NAMES}, {"places", PP_MATCH_PLACES}),
    CHOICE("bundle", "placement", SET(placement), "best", "where the plates are taken to stand",
           {"best", PP_PLACE_BEST}, {"as-set-out", PP_PLACE_AS_SET_OUT}),
    CHOICE("bundle", "accept", SET(accept), "straight", "what conforms",
           {"straight", PP_ACCEPT_STRAIGHT}, {"bending", PP_ACCEPT_BENDING}),
    REAL("bundle", "clearance_minimum", SET(clearance_minimum), PP_LENGTH, FROM_ZERO, "0", "0.1",
         "least diametral clearance of the straight passage"),
    REAL("bundle", "friction", SET(friction), PP_NUMBER, FRICTION_RANGE, NULL, "0.3",
         "of the tube in its holes; needed for the push"),
    REAL("bundle", "push_limit", SET(push_limit), PP_FORCE, ABOVE_ZERO, NULL, "3 kN",
         "force that one tube may be pushed with; empty: not judged"),
    REAL("bundle", "stress_share", SET(stress_share), PP_SHARE, SHARE_RANGE, "100 %", "100 %",
         "share of yield_strength that bending may use"),
    CHOICE("bundle", "decision", SET(decision), "simple", "how measurement uncertainty is taken",
           {"simple", PP_SIMPLE}, {"guarded", PP_GUARDED}),
    REAL("bundle", "uncertainty_position", SET(uncertainty_position), PP_LENGTH, FROM_ZERO, NULL,
         "0.02", "expanded (k = 2), of a hole-centre coordinate, of plates whose job gives none"),
    REAL("bundle", "uncertainty_per_metre", SET(uncertainty_per_metre), PP_LENGTH, FROM_ZERO, NULL,
         "0.008", "the same, a length per metre of distance from the plate's origin"),
    REAL("bundle", "uncertainty_diameter", SET(uncertainty_diameter), PP_LENGTH, FROM_ZERO, NULL,
         "0.01", "expanded (k = 2), of a diameter"),
    REAL("bundle", "uncertainty_placement", SET(uncertainty_placement), PP_LENGTH, FROM_ZERO, NULL,
         "0.1", "expanded (k = 2), of where a plate with play comes to stand, per coordinate"),

    REAL("tube", "diameter", SET(tube.diameter), PP_LENGTH, ABOVE_ZERO, NULL, "25.4",
         "nominal outer diameter"),
    REAL("tube", "diameter_over", SET(tube.diameter_over), PP_LENGTH, FROM_ZERO, "0", "0.15",
         "how much larger a tube may be, ovality and weld bead included"),
    REAL("tube", "wall", SET(tube.wall), PP_LENGTH, ABOVE_ZERO, NULL, "2.11",
         "wall; with elastic_modulus and friction bending is computed"),
    REAL("tube", "elastic_modulus", SET(tube.elastic_modulus), PP_STRESS, MODULUS_RANGE, NULL,
         "195 GPa", "Young's modulus"),
    REAL("tube", "yield_strength", SET(tube.yield_strength), PP_STRESS, STRENGTH_RANGE, NULL,
         "205 MPa", "bending stress is compared with it; empty: not judged"),
    FILE_OF("tube", "places", SET(tube.places), "tubes.csv",
            "hole, x, y of every tube; absent: from the nominal lists of the tube plates"),

    CHOICE("plate", "role", PLATE(role), "baffle", "what the plate is",
           {"baffle", PP_ROLE_BAFFLE}, {"front tube plate", PP_ROLE_FRONT},
           {"rear tube plate", PP_ROLE_REAR}, {"front tubesheet", PP_ROLE_FRONT},
           {"rear tubesheet", PP_ROLE_REAR}),
    FILE_OF("plate", "job", PLATE(job_file), "b1/job.ini",
            "the plate's own job file: its lists, thickness, alignment and uncertainties"),
    FILE_OF("plate", "nominal", PLATE(nominal), "b1_nominal.csv", "hole, x, y as drawn"),
    FILE_OF("plate", "measured", PLATE(measured), "b1.csv", "the measured hole list"),
    {"plate", "length_unit", PP_KEY_UNIT, PLATE(length_unit), PP_NUMBER, ANY, {{0}}, NULL, "mm",
     "of the lists: mm, cm, m, in or um; absent: units"},
    CHOICE("plate", "exit_view", PLATE(exit_view), "through", "how the exit face was measured",
           {"through", PP_EXIT_THROUGH}, {"turned-about-x", PP_EXIT_TURNED_ABOUT_X},
           {"turned-about-y", PP_EXIT_TURNED_ABOUT_Y}),
    REAL("plate", "station", PLATE(station), PP_LENGTH, ANY, NULL, "350",
         "place along the tubes, from any zero common to all plates, growing to the rear"),
    CHOICE("plate", "station_of", PLATE(station_of), "middle", "what station is the place of",
           {"middle", PP_STATION_MIDDLE}, {"front", PP_STATION_FRONT}, {"rear", PP_STATION_REAR}),
    REAL("plate", "thickness", PLATE(thickness), PP_LENGTH, ABOVE_ZERO, NULL, "12", "thickness"),
    CHOICE("plate", "view", PLATE(view), "from-front",
           "how the plate's own axes lie, seen from where the tubes are pushed in",
           {"from-front", PP_FROM_FRONT}, {"turned-about-x", PP_TURNED_X},
           {"turned-about-y", PP_TURNED_Y}),
    CHOICE("plate", "entry_looks", PLATE(entry_looks), NULL,
           "where the entry face looks; absent: front for from-front, else rear",
           {"front", PP_LOOKS_FRONT}, {"rear", PP_LOOKS_REAR}),
    REAL("plate", "turn", PLATE(turn_deg), PP_ANGLE, TURN_RANGE, "0 deg", "90 deg",
         "turn of the plate, counter-clockwise seen from the front"),
    {"plate", "shift", PP_KEY_POINT, PLATE(shift_x), PP_LENGTH, ANY, {{0}}, "0, 0", "0, 0",
     "where the plate's origin stands in the bundle: x right, y up, seen from the front"},
    CHOICE("plate", "align", PLATE(align), NULL, "how the measured holes are laid on the nominal",
           {"as-measured", PP_SET_AS_MEASURED}, {"best-fit", PP_SET_BEST_FIT}),
    REAL("plate", "play", PLATE(play), PP_LENGTH, FROM_ZERO, "0", "1.6",
         "radius in which the plate's origin may be moved; 0: fixed"),
    REAL("plate", "play_angle", PLATE(play_angle_deg), PP_ANGLE, SMALL_TURN_RANGE, "0 deg",
         "0.2 deg", "how far the plate may be turned to either side; 0: not"),
};
/* clang-format on */

const pp_key *pp_set_keys(size_t *count)
{
    *count = sizeof keys / sizeof *keys;
    return keys;
}
