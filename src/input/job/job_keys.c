#include "input/job/job_keys.h"

#include <string.h>

/* A table reads best as laid out by hand. */
/* clang-format off */
#define ANY {-INFINITY, INFINITY, false, false}
#define ABOVE_ZERO {0, INFINITY, true, false}
#define FROM_ZERO {0, INFINITY, false, false}
#define SHARE {0, 1, false, false}
#define AT(member) offsetof(pp_job, member)

#define TEXT(section, key, member, example, help)                                                  \
    {section, key, PP_KEY_TEXT, AT(member), PP_NUMBER, ANY, {{0}}, NULL, example, help}
#define DATE(section, key, member, example, help)                                                  \
    {section, key, PP_KEY_DATE, AT(member), PP_NUMBER, ANY, {{0}}, NULL, example, help}
#define FILE_OF(section, key, member, example, help)                                               \
    {section, key, PP_KEY_FILE, AT(member), PP_NUMBER, ANY, {{0}}, NULL, example, help}
#define UNIT_OF(section, member, help)                                                             \
    {section, "length_unit", PP_KEY_UNIT, AT(member), PP_NUMBER, ANY, {{0}}, NULL, "mm", help}
#define REAL(section, key, member, quantity, range, standard, example, help)                       \
    {section, key, PP_KEY_REAL, AT(member), quantity, range, {{0}}, standard, example, help}
#define LIMIT(key, range, example, help)                                                           \
    {"rules", #key, PP_KEY_LIMIT, AT(rules.key), PP_LENGTH, range, {{0}}, NULL, example, help}
#define POINT(section, key, member, example, help)                                                 \
    {section, key, PP_KEY_POINT, AT(member), PP_LENGTH, ANY, {{0}}, "0, 0", example, help}
#define LIST(section, key, member, example, help)                                                  \
    {section, key, PP_KEY_LIST, AT(member), PP_LENGTH, ABOVE_ZERO, {{0}}, NULL, example, help}
#define COLUMNS_OF(section, key, member, example, of)                                              \
    {section, key, PP_KEY_COLUMNS, AT(member), PP_NUMBER, ANY, {{0}}, NULL, example,               \
     "header words of " of " and the column each means"}
#define CHOICE(section, key, member, standard, help, ...)                                          \
    {section,  key,  PP_KEY_CHOICE, AT(member), PP_NUMBER, ANY, {__VA_ARGS__},                     \
     standard, NULL, help}
#define INSTRUMENT(key, kind, example, help)                                                       \
    {"instrument", #key, kind, offsetof(pp_instrument, key), PP_NUMBER, ANY, {{0}}, NULL, example, \
     help}

#define LAYER(key, kind, member, quantity, range, standard, example, help)                         \
    {"layer", key, kind, offsetof(pp_layer, member), quantity, range, {{0}}, standard, example, help}

#define CLAMP_KEY(key, member, quantity, range, standard, example, help)                           \
    {"clamp",  key,     PP_KEY_REAL, offsetof(pp_job_clamp, member), quantity, range, {{0}},       \
     standard, example, help}

static const pp_key_section sections[] = {
    {"job", "what the certificate says about the piece; all optional"},
    {"plate", "the plate"},
    {"survey", "the surface survey: heights of the plate's face"},
    {"support", "what the plate lies on while it is drilled"},
    {"foot", "the pressure foot around the spindle"},
    {"holddown", "the hold-down study"},
    {"clamp", "a clamp as you mean to set it; any number of these sections"},
    {"holes", "the holes: what they should be and what was measured"},
    {"rules", "what the holes are judged by"},
    {"stack", "plates laid on one another and drilled together"},
    {"layer", "one plate of the stack; two to sixteen of these sections"},
    {"roughing", "the first of two passes: is it enough?"},
    {"machine", "the machine that drills the plate: its hours, and the history of many plates"},
    {"correct", "what the next plate's hole list is corrected by (plateproof correct)"},
    {"instrument", "a measuring instrument; any number of these sections"},
};

/* Plausible ranges keep a slip of the unit from passing in silence: every structural metal lies
 * well inside them. */
#define MODULUS_RANGE {1000, 1e6, false, false}
#define DENSITY_RANGE {500, 25000, false, false}
#define STRENGTH_RANGE {10, 5000, false, false}
#define ROOM_RANGE {-40, 120, false, false}
#define EXPANSION_RANGE {0, 1e-4, false, false}
#define POISSON_RANGE {0, 0.5, true, true}
#define CONFIDENCE_RANGE {0.5, 1, false, true}
#define STEPS_RANGE {1, 1000, false, false}
#define TOOL_RANGE {1, INFINITY, false, false}
#define PLATES_RANGE {1, 64, false, false}
#define TURN_RANGE {-360, 360, false, false}

static const pp_key keys[] = {
    TEXT("job", "title", title, "heat exchanger E-12", "what the job is called"),
    TEXT("job", "customer", customer, NULL, "who ordered the piece"),
    TEXT("job", "order", order, NULL, "order number"),
    TEXT("job", "item", item, NULL, "item of the order"),
    TEXT("job", "plate_id", plate_id, NULL, "the shop's number of this plate"),
    TEXT("job", "plate_role", plate_role, "front tube plate",
         "what it will be: front tube plate, rear tube plate, baffle 7"),
    TEXT("job", "serial", serial, NULL, "serial number"),
    TEXT("job", "drawing", drawing, NULL, "drawing number"),
    TEXT("job", "drawing_revision", drawing_revision, NULL, "revision of the drawing"),
    TEXT("job", "material", material, NULL, "material as certified"),
    TEXT("job", "heat_number", heat_number, NULL, "heat number of the plate"),
    TEXT("job", "supplier", supplier, NULL, "who supplied the plate's material"),
    TEXT("job", "procedure", procedure, NULL, "measuring procedure"),
    TEXT("job", "inspector", inspector, NULL, "who measured"),
    DATE("job", "inspection_date", inspection_date, "2026-11-20", "when it was measured"),
    TEXT("job", "stage", stage, "after drilling",
         "as received, first holes, after drilling, after rework, final"),
    TEXT("job", "report_number", report_number, NULL, "number of the report"),
    TEXT("job", "report_revision", report_revision, NULL, "revision of the report"),
    TEXT("job", "supersedes", supersedes, NULL, "the report that this one replaces"),
    DATE("job", "date", date, "2026-11-20", "date of the report; absent: today"),
    {"job", "units", PP_KEY_UNITS, AT(units), PP_NUMBER, ANY, {{0}}, "mm", "mm",
     "unit of bare lengths in this file, and of the report: mm or inch"},

    CHOICE("plate", "outline", plate.outline, NULL, "shape of the plate",
           {"disc", PP_OUTLINE_DISC}, {"rectangle", PP_OUTLINE_RECTANGLE},
           {"segment", PP_OUTLINE_SEGMENT}, {"double-segment", PP_OUTLINE_DOUBLE_SEGMENT},
           {"annulus", PP_OUTLINE_ANNULUS}, {"polygon", PP_OUTLINE_POLYGON}),
    REAL("plate", "diameter", plate.diameter, PP_LENGTH, ABOVE_ZERO, NULL, "3200",
         "of a disc, of the disc that a segment is cut from, of an annulus"),
    REAL("plate", "width", plate.width, PP_LENGTH, ABOVE_ZERO, NULL, "2400",
         "of a rectangle, along x"),
    REAL("plate", "height", plate.height, PP_LENGTH, ABOVE_ZERO, NULL, "1200",
         "of a rectangle, along y"),
    REAL("plate", "cut_height", plate.cut_height, PP_LENGTH, ABOVE_ZERO, NULL, "800",
         "of a segment: what is cut off, from the disc's rim to the cut; of a double-segment on both sides"),
    REAL("plate", "cut_angle", plate.cut_angle_deg, PP_ANGLE, TURN_RANGE, "90 deg", "0 deg",
         "of a segment: the direction from the disc's centre to the cut, anticlockwise from +x"),
    REAL("plate", "inner_diameter", plate.inner_diameter, PP_LENGTH, ABOVE_ZERO, NULL, "900",
         "of an annulus: of its opening"),
    FILE_OF("plate", "outline_file", plate.outline_file, "outline.csv",
            "of a polygon: x, y of its corners in order, counted from centre"),
    POINT("plate", "centre", plate.centre_x, "0, 0", "x, y of the plate's centre: of the circle or rectangle"),
    REAL("plate", "thickness", plate.thickness, PP_LENGTH, ABOVE_ZERO, NULL, "38", "thickness"),
    REAL("plate", "thickness_variation", plate.thickness_variation, PP_LENGTH, FROM_ZERO, NULL,
         "0.6", "of the rolled plate, largest less smallest; widens every gap by half of it"),
    FILE_OF("plate", "thickness_points", plate.thickness_points, "thickness.csv",
            "readings x, y, t of the thickness: six lay a plane, twelve a quadric through them, for "
            "stiffness, weight and underside; what they scatter is thickness_variation where that is "
            "left empty"),
    REAL("plate", "elastic_modulus", plate.elastic_modulus, PP_STRESS, MODULUS_RANGE, "206 GPa",
         "206 GPa", "Young's modulus; a bare number is in MPa"),
    REAL("plate", "poisson_ratio", plate.poisson_ratio, PP_NUMBER,
         POISSON_RANGE, "0.3", "0.3", "Poisson's ratio"),
    REAL("plate", "density", plate.density, PP_DENSITY, DENSITY_RANGE, "7850 kg/m3", "7850 kg/m3",
         "for the plate's own weight; a bare number is in kg/m3"),
    REAL("plate", "yield_strength", plate.yield_strength, PP_STRESS, STRENGTH_RANGE, NULL,
         "260 MPa", "the bending stress of flattening is compared with it"),
    TEXT("plate", "flatness_rule", plate.flatness_rule, "flatness-en10029-n-l",
         "mill flatness table, by name or as a file, that gives limits left empty below"),

    FILE_OF("survey", "file", survey.file, "survey.csv", "points x, y, z"),
    FILE_OF("survey", "underside", survey.underside, "underside.csv",
            "a second survey, of the underside, in the same axes: thickness and parallelism"),
    COLUMNS_OF("survey", "columns", survey.columns, "X-Ist:x, Y-Ist:y, Z-Ist:z", "its files"),
    UNIT_OF("survey", survey.length_unit,
            "of the survey's numbers: mm, cm, m, in or um; absent: units; a unit in its header "
            "wins"),
    CHOICE("survey", "up", survey.up, "z", "survey axis that points away from the supports",
           {"z", PP_UP_Z}, {"x", PP_UP_X}, {"y", PP_UP_Y}, {"-x", PP_UP_MINUS_X},
           {"-y", PP_UP_MINUS_Y}, {"-z", PP_UP_MINUS_Z}),
    REAL("survey", "survey_angle", survey.angle_deg, PP_ANGLE, TURN_RANGE, "0 deg",
         "0 deg", "turn of the survey's axes against the plate's, about z"),
    POINT("survey", "survey_origin", survey.origin_x, "0, 0",
          "plate coordinates of the survey's origin"),
    REAL("survey", "uncertainty", survey.uncertainty, PP_LENGTH, FROM_ZERO, NULL, "0.02",
         "expanded uncertainty (k = 2) of one height"),
    REAL("survey", "uncertainty_form", survey.uncertainty_form, PP_LENGTH, FROM_ZERO, NULL, "0.01",
         "expanded (k = 2), of flatness: form errors that all heights share, as of a level line"),
    REAL("survey", "smallest_feature", survey.smallest_feature, PP_LENGTH, FROM_ZERO, NULL, "150",
         "the narrowest bump or pit that the plate may have, full width; absent: four pitches of the "
         "survey, at least 1/20 of the plate; 0: flatness is proven by the readings alone"),
    TEXT("survey", "exclude", survey.exclude, "12, 40-44",
         "data rows of file that count for nothing (the first is 1); said beside the verdict"),
    REAL("survey", "flatness_limit", survey.flatness_limit, PP_LENGTH, ABOVE_ZERO, NULL, "1.5",
         "flatness allowed; empty: not judged"),
    CHOICE("survey", "flatness_zone", survey.flatness_zone, "minimum", "which figure is judged",
           {"minimum", PP_ZONE_MINIMUM}, {"least-squares", PP_ZONE_LEAST_SQUARES}),
    REAL("survey", "area_threshold", survey.area_threshold, PP_LENGTH, ABOVE_ZERO, NULL, "0.5",
         "a high or low area leaves the least-squares plane by more than this"),
    LIST("survey", "straightedge", survey.straightedge, "1000, 2000", "lengths of straightedges, from 10 mm"),
    LIST("survey", "straightedge_limit", survey.straightedge_limit, "6, 9",
         "gap allowed under each, one per length; empty: not judged"),
    REAL("survey", "parallelism_limit", survey.parallelism_limit, PP_LENGTH, ABOVE_ZERO, NULL,
         "1", "parallelism allowed, with a survey of the underside; empty: not judged"),
    CHOICE("survey", "laid", survey.laid, "on-supports",
           "how the plate lay when surveyed; free: no load, on edge or on many soft jacks",
           {"on-supports", PP_LAID_ON_SUPPORTS}, {"on-three-points", PP_LAID_ON_THREE_POINTS},
           {"free", PP_LAID_FREE}),
    FILE_OF("survey", "three_points", survey.three_points, "three.csv",
            "x, y of the three points it lay on"),

    CHOICE("support", "kind", support.kind, NULL, "what the plate lies on; left empty: a table",
           {"table", PP_SUPPORT_TABLE}, {"pins", PP_SUPPORT_PINS}),
    FILE_OF("support", "file", support.file, "pins.csv",
            "pins: x, y or x, y, z (height of the pin's top against the others)"),
    COLUMNS_OF("support", "columns", support.columns, "Pos X:x, Pos Y:y", "that file"),
    REAL("support", "pin_diameter", support.pin_diameter, PP_LENGTH, ABOVE_ZERO, NULL, "10",
         "of the pin's top"),
    REAL("support", "pin_load_limit", support.pin_load_limit, PP_FORCE, ABOVE_ZERO, NULL, "20 kN",
         "force one pin may carry"),
    REAL("support", "pin_pressure_limit", support.pin_pressure_limit, PP_STRESS, ABOVE_ZERO, NULL,
         "150 MPa", "mean bearing pressure allowed on a pin's top; the plate's own yield_strength holds "
         "besides"),
    REAL("support", "pin_clearance", support.pin_clearance, PP_LENGTH, FROM_ZERO, "0", "1",
         "least distance from a pin's edge to any hole's edge"),
    REAL("support", "pin_spacing", support.pin_spacing, PP_LENGTH, ABOVE_ZERO, NULL, "250",
         "for plateproof pins; absent: from the sag allowed"),
    CHOICE("support", "seat", support.seat, "rest",
           "rest: the plane that the stiff plate would rest on; level: z = support_height",
           {"rest", PP_SEAT_REST}, {"level", PP_SEAT_LEVEL}),
    REAL("support", "support_height", support.height, PP_LENGTH, ANY, "0", "0",
         "for seat = level: the survey's z of a plate lying dead flat"),
    REAL("support", "touch_gap", support.touch_gap, PP_LENGTH, FROM_ZERO, NULL, "0.02",
         "a smaller gap counts as touching; absent: from the survey's own scatter"),

    REAL("foot", "force", foot.force, PP_FORCE, ABOVE_ZERO, NULL, "6 kN",
         "down force of the pressure foot; a bare number is in N"),
    REAL("foot", "outer_diameter", foot.outer_diameter, PP_LENGTH, ABOVE_ZERO, NULL, "160",
         "of the foot; both diameters absent: a point load"),
    REAL("foot", "inner_diameter", foot.inner_diameter, PP_LENGTH, FROM_ZERO, NULL, "90",
         "of the foot"),
    REAL("foot", "thrust", foot.thrust, PP_FORCE, FROM_ZERO, NULL, "2.5 kN",
         "of the drill; gives the spring-back at break-through"),

    REAL("holddown", "gap_limit", holddown.gap_limit, PP_LENGTH, ABOVE_ZERO, NULL, "0.3",
         "largest gap the set-up accepts with the foot down"),
    REAL("holddown", "force_cap", holddown.force_cap, PP_FORCE, ABOVE_ZERO, NULL, "200 kN",
         "forces above this are not reported as numbers"),
    REAL("holddown", "clamp_force_limit", holddown.clamp_force_limit, PP_FORCE, ABOVE_ZERO, NULL,
         "40 kN", "force one extra clamp can give"),
    REAL("holddown", "clamp_pad", holddown.clamp_pad, PP_LENGTH, ABOVE_ZERO, NULL, "80",
         "diameter that a clamp covers; the holes under it are blocked by it"),
    CHOICE("holddown", "clamp_over_holes", holddown.clamp_over_holes, "if-needed",
           "whether a clamp may stand over holes, which then wait for a further set-up",
           {"if-needed", PP_OVER_IF_NEEDED}, {"no", PP_OVER_NO}, {"yes", PP_OVER_YES}),
    CHOICE("holddown", "drilling_order", holddown.drilling_order, "interleaved",
           "of the holes of a set-up: four sweeps of every fourth row, which keep drift of the machine "
           "apart from place, or row by row, which travels least",
           {"interleaved", PP_ORDER_INTERLEAVED}, {"row-by-row", PP_ORDER_BY_ROWS}),
    REAL("holddown", "tilt_limit", holddown.tilt_limit, PP_NUMBER, ABOVE_ZERO, NULL, "0.3",
         "mm per m that a hole may lean once the plate is let go; empty: not held against anything"),
    FILE_OF("holddown", "clamp_candidates", holddown.clamp_candidates, "clamps.csv",
            "x, y where clamps could stand; absent: the rim and lanes free of holes"),
    COLUMNS_OF("holddown", "columns", holddown.columns, "Pos X:x, Pos Y:y", "that file"),
    LIST("holddown", "shim_stock", holddown.shim_stock, "0.1, 0.2, 0.5, 1",
         "shim thicknesses in stock"),
    {"holddown", "ligament_softening", PP_KEY_YES_NO, AT(holddown.ligament_softening), PP_NUMBER,
     ANY, {{0}}, "no", "no", "yes: the drilled region is softer (effective elastic constants)"},

    {"clamp", "kind", PP_KEY_CHOICE, offsetof(pp_job_clamp, kind), PP_NUMBER, ANY,
     {{"clamp", PP_CLAMP}, {"edge-stop", PP_EDGE_STOP}}, "clamp", NULL,
     "edge-stop: keeps the plate from sliding and holds nothing down, but for what force says"},
    CLAMP_KEY("x", x, PP_LENGTH, ANY, NULL, "250", "where it presses"),
    CLAMP_KEY("y", y, PP_LENGTH, ANY, NULL, "-400", "where it presses"),
    CLAMP_KEY("force", force, PP_FORCE, FROM_ZERO, NULL, "12 kN",
              "down; a bare number is in N. Of an edge stop 0 unless given"),
    CLAMP_KEY("pad", pad, PP_LENGTH, FROM_ZERO, NULL, "80",
              "diameter that it covers; absent: clamp_pad of [holddown], of an edge stop none"),

    FILE_OF("holes", "nominal", holes.nominal, "nominal.csv", "hole, x, y as drawn"),
    FILE_OF("holes", "measured", holes.measured, "measured.csv", "hole, x, y, diameter as found"),
    FILE_OF("holes", "commanded", holes.commanded, "corrected.csv",
            "the list the machine drilled to, where that is not the nominal one: hole, x, y; "
            "nothing is judged by it"),
    FILE_OF("holes", "ligaments", holes.ligaments, "ligaments.csv",
            "ligaments measured directly: hole_a, hole_b, ligament[, face]"),
    FILE_OF("holes", "checks", holes.checks, "checks.csv",
            "attribute checks: hole, characteristic, value, low, high, result"),
    COLUMNS_OF("holes", "nominal_columns", holes.nominal_columns, "Bohrung:hole", "the nominal list"),
    COLUMNS_OF("holes", "measured_columns", holes.measured_columns,
               "X-Ist:x, Y-Ist:y, Seite:face", "the measured list"),
    COLUMNS_OF("holes", "ligaments_columns", holes.ligaments_columns, "Steg:ligament",
               "the list of ligaments"),
    COLUMNS_OF("holes", "checks_columns", holes.checks_columns, "Befund:result",
               "the list of checks"),
    COLUMNS_OF("holes", "datum_points_columns", holes.datum_points_columns, "X-Soll:nominal_x",
               "the datum points"),
    {"holes", "ignore_columns", PP_KEY_WORDS, AT(holes.ignore_columns), PP_NUMBER, ANY, {{0}}, NULL,
     "remark, probe", "columns of the measured list in which repeat readings may differ"},
    UNIT_OF("holes", holes.length_unit,
            "of the hole lists' numbers: mm, cm, m, in or um; absent: units; a unit in a header "
            "wins"),
    {"holes", "tube_diameter", PP_KEY_TUBE, AT(holes.tube_diameter), PP_LENGTH, ABOVE_ZERO, {{0}},
     NULL, "25.4", "outside diameter of the tubes; its unit picks the rule table"},
    REAL("holes", "tube_holes", holes.tube_holes, PP_NUMBER, ABOVE_ZERO, NULL, "1285",
         "how many tube holes the drawing has, plugged ones included; absent: as the nominal list"),
    REAL("holes", "pitch", holes.pitch, PP_LENGTH, ABOVE_ZERO, NULL, "31.75",
         "absent: the commonest distance between neighbours of the nominal list"),
    TEXT("holes", "entry_face_is", holes.entry_face_is, "tube side",
         "what the drill's entry face is: tube side, shell side"),
    {"holes", "face_names", PP_KEY_FACES, 0, PP_NUMBER, ANY, {{0}}, NULL, "A:entry, B:exit",
     "other words used in the face column"},
    CHOICE("holes", "exit_view", holes.exit_view, "through",
           "how the exit face was measured; through: in the entry face's axes",
           {"through", PP_EXIT_THROUGH}, {"turned-about-x", PP_EXIT_TURNED_ABOUT_X},
           {"turned-about-y", PP_EXIT_TURNED_ABOUT_Y}),
    CHOICE("holes", "exit_align", holes.exit_align, "same",
           "the exit face's alignment; best-fit hides a uniform lean",
           {"same", PP_EXIT_ALIGN_SAME}, {"two-holes", PP_EXIT_ALIGN_TWO_HOLES},
           {"best-fit", PP_EXIT_ALIGN_BEST_FIT}),
    CHOICE("holes", "align", holes.align, "as-measured", "how measured meets nominal",
           {"as-measured", PP_ALIGN_AS_MEASURED}, {"best-fit", PP_ALIGN_BEST_FIT},
           {"two-holes", PP_ALIGN_TWO_HOLES}, {"datum-points", PP_ALIGN_DATUM_POINTS}),
    CHOICE("holes", "match", holes.match, "nearest",
           "how holes without names are matched; pattern: measured in an unknown frame",
           {"nearest", PP_MATCH_NAMES_OR_NEAREST}, {"pattern", PP_MATCH_PATTERN}),
    {"holes", "datum_holes", PP_KEY_TWO_HOLES, AT(holes.datum_holes), PP_NUMBER, ANY, {{0}}, NULL,
     "A1, A40", "for two-holes: the origin, then the direction"},
    FILE_OF("holes", "datum_points", holes.datum_points, "datum.csv",
            "for datum-points: name, nominal_x, nominal_y, x, y"),
    REAL("holes", "position_limit", holes.position_limit, PP_LENGTH, ABOVE_ZERO, NULL, "0.5",
         "diameter of the position zone; empty: not judged"),
    REAL("holes", "pattern_limit", holes.pattern_limit, PP_LENGTH, ABOVE_ZERO, NULL, "1",
         "zone of the pattern's place on the datum; position_limit then holds within the pattern"),
    CHOICE("holes", "material_condition", holes.material_condition, "regardless",
           "maximum: the position zone grows with the hole",
           {"regardless", PP_REGARDLESS}, {"maximum", PP_MAXIMUM_MATERIAL}),
    CHOICE("holes", "coverage", holes.coverage, "every-hole",
           "sample: only some holes were to be measured",
           {"every-hole", PP_EVERY_HOLE}, {"sample", PP_SAMPLE}),
    FILE_OF("holes", "sample_list", holes.sample_list, "to-measure.csv",
            "the holes drawn to be measured (plateproof sample): hole"),
    REAL("holes", "sample_seed", holes.sample_seed, PP_NUMBER, FROM_ZERO, NULL, "20261120",
         "that they were drawn with: drawn once more and compared"),
    REAL("holes", "confidence", holes.confidence, PP_SHARE, CONFIDENCE_RANGE, "95 %",
         "95 %", "of statements about the holes a sample left out"),
    REAL("holes", "temperature", holes.temperature, PP_TEMPERATURE, ROOM_RANGE, NULL, "24 C",
         "of the plate when measured; empty: the report says so"),
    {"holes", "compensated", PP_KEY_YES_NO, AT(holes.compensated), PP_NUMBER, ANY, {{0}}, "no",
     "no", "yes: the instrument has brought the numbers to 20 C already"},
    REAL("holes", "expansion", holes.expansion, PP_EXPANSION, EXPANSION_RANGE, "11.5e-6",
         "11.5e-6", "thermal expansion of the plate, per K"),
    REAL("holes", "uncertainty_position", holes.uncertainty_position, PP_LENGTH, FROM_ZERO, NULL,
         "0.01", "expanded (k = 2), of one coordinate of a hole's centre"),
    REAL("holes", "uncertainty_per_metre", holes.uncertainty_per_metre, PP_LENGTH, FROM_ZERO, NULL,
         "0.008", "expanded (k = 2), a length per metre of distance from the origin"),
    {"holes", "uncertainty_temperature", PP_KEY_DIFFERENCE, AT(holes.uncertainty_temperature),
     PP_TEMPERATURE, FROM_ZERO, {{0}}, NULL, "1 C", "expanded (k = 2), of the plate's temperature: a difference in C or F"},
    REAL("holes", "uncertainty_expansion", holes.uncertainty_expansion, PP_SHARE, SHARE, NULL,
         "10 %", "expanded (k = 2), of expansion, as a share of it; 10 % where expansion is the default "
         "and the plate was not at 20 C"),
    REAL("holes", "uncertainty_diameter", holes.uncertainty_diameter, PP_LENGTH, FROM_ZERO, NULL,
         "0.005", "expanded (k = 2), of a diameter"),
    REAL("holes", "uncertainty_ligament", holes.uncertainty_ligament, PP_LENGTH, FROM_ZERO, NULL,
         "0.02", "expanded (k = 2), of a ligament measured directly"),
    REAL("holes", "common_share", holes.common_share, PP_SHARE, SHARE, "0", "25 %",
         "share of the uncertainty's variance that all holes have in common"),
    REAL("holes", "pitch_steps", holes.pitch_steps, PP_NUMBER, STEPS_RANGE, NULL, "10",
         "how many pitches apart two holes of a row are whose distance is compared; absent: 1"),
    REAL("holes", "pitch_error_limit", holes.pitch_error_limit, PP_LENGTH, ABOVE_ZERO, NULL, "0.3",
         "how far that distance may be off, either way; empty: not judged"),
    REAL("holes", "edge_ligament_minimum", holes.edge_ligament_minimum, PP_LENGTH, ABOVE_ZERO,
         NULL, "12", "least metal from a hole's edge to the plate's; empty: not judged"),
    REAL("holes", "other_ligament_minimum", holes.other_ligament_minimum, PP_LENGTH, ABOVE_ZERO,
         NULL, "8", "least metal from a hole of kind other to its neighbours; empty: not judged"),

    {"rules", "set", PP_KEY_TEXT, AT(rules.set), PP_NUMBER, ANY, {{0}}, "tema-style", "tema-style",
     "a rule set of the program (see plateproof rules), or the path of a rule file"},
    CHOICE("rules", "part", rules.part, "tube-plate", "what is drilled",
           {"tube-plate", PP_TUBE_PLATE}, {"tubesheet", PP_TUBESHEET}, {"baffle", PP_BAFFLE}),
    CHOICE("rules", "fit", rules.fit, "standard", "hole sizes of the set",
           {"standard", PP_FIT_STANDARD}, {"close", PP_FIT_CLOSE}),
    CHOICE("rules", "table", rules.table, NULL, "absent: the unit written with tube_diameter",
           {"inch", PP_TABLE_INCH}, {"metric", PP_TABLE_METRIC}),
    REAL("rules", "unsupported_span", rules.unsupported_span, PP_LENGTH, ABOVE_ZERO, NULL, "900",
         "baffle: the longest unsupported span of any tube it carries (window tubes skip baffles)"),
    CHOICE("rules", "decision", rules.decision, "simple",
           "guarded: measurement uncertainty counts against whoever proves (ISO 14253-1)",
           {"simple", PP_SIMPLE}, {"guarded", PP_GUARDED}),
    REAL("rules", "remainder_share", rules.remainder_share, PP_SHARE, SHARE, "4 %", "4 %",
         "share of the holes and of the ligaments that may lie between the two limits"),
    CHOICE("rules", "ligament_face", rules.ligament_face, "worst", "where ligaments are judged",
           {"worst", PP_LIGAMENT_WORST}, {"exit", PP_LIGAMENT_EXIT}),
    LIMIT(hole_nominal, ABOVE_ZERO, "25.7", "the hole's nominal diameter"),
    LIMIT(hole_under, FROM_ZERO, "0.1", "how much smaller a hole may be"),
    LIMIT(hole_over, FROM_ZERO, "0.05", "how much larger a hole may be"),
    LIMIT(hole_over_limit, FROM_ZERO, "0.25", "how much larger the few (remainder) may be"),
    LIMIT(ligament_standard, ABOVE_ZERO, "5.2", "ligament that nearly all must have"),
    LIMIT(ligament_minimum, ABOVE_ZERO, "3.05", "ligament that all must have"),
    LIMIT(drift_limit, ABOVE_ZERO, "0.2", "drill drift allowed; empty: not judged"),

    TEXT("stack", "order", stack.order_text, "A, B, C",
         "the layers, bottom first; absent: as their sections stand"),
    REAL("stack", "gap_limit", stack.gap_limit, PP_LENGTH, ABOVE_ZERO, NULL, "0.1",
         "largest gap between layers accepted with the foot down"),
    TEXT("stack", "search", stack.search_text, "order, face, turn",
         "what may be changed to close gaps, as far as the layers allow: none, or any of order, "
         "face, turn"),
    CHOICE("stack", "aim", stack.aim, "between",
           "what the search closes: the gaps between layers, or the gap to the support too",
           {"between", PP_AIM_BETWEEN}, {"all", PP_AIM_ALL}),
    REAL("stack", "uncertainty_wander", stack.uncertainty_wander, PP_LENGTH, FROM_ZERO, NULL,
         "0.05", "expanded (k = 2): how far a hole may leave its straight line at mid height"),

    LAYER("survey", PP_KEY_FILE, survey, PP_NUMBER, ANY, NULL, "layer-a.csv",
          "its survey; absent: not surveyed, reckoned flat"),
    LAYER("underside", PP_KEY_FILE, underside, PP_NUMBER, ANY, NULL, "layer-a-under.csv",
          "a second survey, of its underside, in the same axes"),
    {"layer", "laid", PP_KEY_CHOICE, offsetof(pp_layer, laid), PP_NUMBER, ANY,
     {{"on-supports", PP_LAID_ON_SUPPORTS}, {"on-three-points", PP_LAID_ON_THREE_POINTS},
      {"free", PP_LAID_FREE}}, NULL, NULL,
     "how it lay when surveyed; absent, as the next three: as under [survey]"},
    LAYER("three_points", PP_KEY_FILE, three_points, PP_NUMBER, ANY, NULL, "three.csv",
          "x, y of the three points it lay on"),
    LAYER("survey_angle", PP_KEY_REAL, survey_angle_deg, PP_ANGLE, TURN_RANGE, NULL, "0 deg",
          "turn of its survey's axes against the plate's, about z"),
    LAYER("uncertainty", PP_KEY_REAL, uncertainty, PP_LENGTH, FROM_ZERO, NULL, "0.02",
          "expanded uncertainty (k = 2) of one height of its survey"),
    LAYER("thickness", PP_KEY_REAL, thickness, PP_LENGTH, ABOVE_ZERO, NULL, "9.5",
          "its thickness; absent: as under [plate]"),
    LAYER("thickness_variation", PP_KEY_REAL, thickness_variation, PP_LENGTH, FROM_ZERO, NULL,
          "0.3", "largest less smallest; absent: as under [plate]"),
    {"layer", "face", PP_KEY_CHOICE, offsetof(pp_layer, face), PP_NUMBER, ANY,
     {{"up", PP_FACE_AS_SURVEYED}, {"over", PP_FACE_OVER}, {"either", PP_FACE_EITHER}}, "up", NULL,
     "which way up it lies: as surveyed, turned over about its own x axis, or whichever is better"},
    LAYER("turns", PP_KEY_LIST, turns, PP_ANGLE, TURN_RANGE, "0", "0, 60, 120",
          "degrees it may be turned by about z; the first is as listed"),
    LAYER("place", PP_KEY_TEXT, place_text, PP_NUMBER, ANY, NULL, "bottom",
          "where it must lie: bottom, top or a number from the bottom; absent: anywhere"),
    LAYER("measured", PP_KEY_FILE, measured, PP_NUMBER, ANY, NULL, "layer-a-holes.csv",
          "its holes as found once the stack was drilled"),
    LAYER("serial", PP_KEY_TEXT, serial, PP_NUMBER, ANY, NULL, NULL, "its serial number"),
    LAYER("heat_number", PP_KEY_TEXT, heat_number, PP_NUMBER, ANY, NULL, NULL, "its heat number"),
    LAYER("plate_id", PP_KEY_TEXT, plate_id, PP_NUMBER, ANY, NULL, NULL,
          "the shop's number of it"),

    FILE_OF("roughing", "measured", roughing.measured, "roughed.csv",
            "some of the holes, drawn at random, as the first pass left them"),
    REAL("roughing", "seconds_roughing", roughing.seconds_roughing, PP_NUMBER, FROM_ZERO, NULL,
         "18", "time of the first pass, per hole"),
    REAL("roughing", "seconds_finishing", roughing.seconds_finishing, PP_NUMBER, FROM_ZERO, NULL,
         "24", "time of the second pass, per hole"),

    TEXT("machine", "name", machine.name, "borer 2", "what the shop calls it"),
    TEXT("machine", "serial", machine.serial, NULL, "its serial number"),
    TEXT("machine", "operator", machine.operator_name, NULL,
         "who drilled; a history leaves it out unless asked to keep it"),
    TEXT("machine", "program", machine.program, NULL, "the drilling program"),
    DATE("machine", "drilled", machine.drilled, "2026-11-18", "when the plate was drilled"),
    REAL("machine", "drilling_temperature", machine.drilling_temperature, PP_TEMPERATURE,
         ROOM_RANGE, NULL, "23 C", "of the plate while it was drilled"),

    REAL("machine", "seconds_per_hole", machine.seconds_per_hole, PP_NUMBER, ABOVE_ZERO, NULL,
         "18.5", "from one hole to the next, moving there included: hours per plate, on the set-up sheet"),
    REAL("machine", "seconds_per_setup", machine.seconds_per_setup, PP_NUMBER, FROM_ZERO, NULL,
         "600", "of setting up, and of every change of clamps"),
    REAL("machine", "holes_per_tool", machine.holes_per_tool, PP_NUMBER, TOOL_RANGE, NULL,
         "800", "that a tool or its edge lasts"),

    {"correct", "from", PP_KEY_WORDS, AT(correct.from), PP_NUMBER, ANY, {{0}}, NULL,
     "p1-report, p2-report", "report folders of the measured plates"},
    FILE_OF("correct", "history", correct.history, "shop.history",
            "instead of from: the machine's plates since its last event in this history"),
    REAL("correct", "last", correct.last, PP_NUMBER, PLATES_RANGE, "8", "8",
         "the most recent plates of the history"),
    CHOICE("correct", "use", correct.use, "field",
           "field: what repeats smoothly or hole by hole, too; terms: what the causes name alone",
           {"field", PP_USE_FIELD}, {"terms", PP_USE_TERMS}),
    {"correct", "machine_sets", PP_KEY_WORDS, AT(correct.machine_sets), PP_NUMBER, ANY, {{0}}, NULL,
     "scale, squareness", "set at the machine, and so left out of the list"},
    REAL("correct", "cap", correct.cap, PP_LENGTH, ABOVE_ZERO, NULL, "0.1",
         "largest shift of a hole; absent: half of the position limit"),
    REAL("correct", "step", correct.step, PP_LENGTH, FROM_ZERO, "0.001 mm", "0.001 mm",
         "shifts are rounded to it"),

    INSTRUMENT(kind, PP_KEY_TEXT, "articulated arm", "what it is"),
    INSTRUMENT(serial, PP_KEY_TEXT, "S-104", "its serial number"),
    INSTRUMENT(certificate, PP_KEY_TEXT, "C-2210", "its calibration certificate"),
    INSTRUMENT(calibration_due, PP_KEY_DATE, "2027-03-01",
               "an inspection_date after it is stated beside the verdict"),
};
/* clang-format on */

const pp_key *pp_keys(size_t *count)
{
    *count = sizeof keys / sizeof *keys;
    return keys;
}

const pp_key_section *pp_key_sections(size_t *count)
{
    *count = sizeof sections / sizeof *sections;
    return sections;
}

size_t pp_key_find(const char *section, const char *key)
{
    size_t count = sizeof keys / sizeof *keys, i = 0;
    while (i < count && (strcmp(keys[i].section, section) != 0 || strcmp(keys[i].key, key) != 0))
        i++;
    return i;
}
