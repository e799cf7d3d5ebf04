/* The job: what the job file says, read once, checked, with units converted and defaults filled.
 * Const from then on; no later stage knows the job file's syntax.
 *
 * Lengths mm, forces N, stresses and moduli MPa, density kg/m3, temperatures degC, angles degree,
 * shares 0..1. A real that was not given is NaN (pp_given tells), a text or file NULL. Paths are
 * joined to the job file's folder, ready to open.
 */
#ifndef PP_INPUT_JOB_JOB_H
#define PP_INPUT_JOB_JOB_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#include "base/memory.h"
#include "base/outline.h"
#include "base/reading.h"
#include "base/units.h"

/* A real that was given: not NaN. */
static inline bool pp_given(double value) { return !isnan(value); }

/* A file named by the job. */
typedef struct pp_job_file {
    const char *path;       /* ready to open; NULL: not given */
    const char *written;    /* as it stands in the job file, without @INSTRUMENT */
    const char *instrument; /* NULL, or the name after @; it exists in job.instruments */
    long line;              /* of the job file */
} pp_job_file;

/* Header words of a file, each with the column it means. */
typedef struct pp_column_word {
    const char *word, *column;
} pp_column_word;

typedef struct pp_column_map {
    size_t count;
    const pp_column_word *items;
    long line;       /* of the job file */
    const char *key; /* "measured_columns"; NULL: not given */
} pp_column_map;

typedef struct pp_word_list {
    size_t count;
    const char *const *words;
} pp_word_list;

typedef struct pp_job_list { /* a list of numbers, in the order written */
    size_t count;
    const double *values;
} pp_job_list;

typedef enum pp_axis {
    PP_UP_Z,
    PP_UP_X,
    PP_UP_Y,
    PP_UP_MINUS_X,
    PP_UP_MINUS_Y,
    PP_UP_MINUS_Z
} pp_axis;
typedef enum pp_zone { PP_ZONE_MINIMUM, PP_ZONE_LEAST_SQUARES } pp_zone;
typedef enum pp_laid { PP_LAID_ON_SUPPORTS, PP_LAID_ON_THREE_POINTS, PP_LAID_FREE } pp_laid;
typedef enum pp_support_kind { PP_SUPPORT_NONE, PP_SUPPORT_TABLE, PP_SUPPORT_PINS } pp_support_kind;
typedef enum pp_seat { PP_SEAT_REST, PP_SEAT_LEVEL } pp_seat;
typedef enum pp_over_holes { PP_OVER_IF_NEEDED, PP_OVER_NO, PP_OVER_YES } pp_over_holes;
typedef enum pp_drilling_order { PP_ORDER_INTERLEAVED, PP_ORDER_BY_ROWS } pp_drilling_order;
typedef enum pp_exit_view {
    PP_EXIT_THROUGH,
    PP_EXIT_TURNED_ABOUT_X,
    PP_EXIT_TURNED_ABOUT_Y
} pp_exit_view;
typedef enum pp_align {
    PP_ALIGN_AS_MEASURED,
    PP_ALIGN_BEST_FIT,
    PP_ALIGN_TWO_HOLES,
    PP_ALIGN_DATUM_POINTS
} pp_align;
typedef enum pp_exit_align {
    PP_EXIT_ALIGN_SAME,
    PP_EXIT_ALIGN_TWO_HOLES,
    PP_EXIT_ALIGN_BEST_FIT
} pp_exit_align;
typedef enum pp_material { PP_REGARDLESS, PP_MAXIMUM_MATERIAL } pp_material;
typedef enum pp_coverage { PP_EVERY_HOLE, PP_SAMPLE } pp_coverage;
/* PP_TUBESHEET is in the job file only; a job that was read has PP_TUBE_PLATE and `tubesheet`. */
typedef enum pp_part { PP_TUBE_PLATE, PP_BAFFLE, PP_TUBESHEET } pp_part;
typedef enum pp_fit { PP_FIT_STANDARD, PP_FIT_CLOSE } pp_fit;
typedef enum pp_table { PP_TABLE_INCH, PP_TABLE_METRIC } pp_table;
typedef enum pp_decision { PP_SIMPLE, PP_GUARDED } pp_decision;
typedef enum pp_layer_face { PP_FACE_AS_SURVEYED, PP_FACE_OVER, PP_FACE_EITHER } pp_layer_face;
typedef enum pp_stack_aim { PP_AIM_BETWEEN, PP_AIM_ALL } pp_stack_aim;
typedef enum pp_ligament_face { PP_LIGAMENT_WORST, PP_LIGAMENT_EXIT } pp_ligament_face;
typedef enum pp_matching { PP_MATCH_NAMES_OR_NEAREST, PP_MATCH_PATTERN } pp_matching;

typedef struct pp_face_name { /* another word for a face in the face column */
    const char *word;
    bool exit;
} pp_face_name;

typedef struct pp_instrument {
    const char *name, *kind, *serial, *certificate, *calibration_due; /* date YYYY-MM-DD */
} pp_instrument;

enum { PP_LAYERS_MIN = 2, PP_LAYERS_MAX = 16 };

/* [layer NAME]: one plate of a stack. What a layer leaves out holds as [survey] and [plate] say. */
typedef struct pp_layer {
    const char *name;
    pp_job_file survey, underside; /* path NULL: not surveyed */
    pp_job_file three_points;
    pp_laid laid;
    double survey_angle_deg, uncertainty;
    double thickness, thickness_variation;
    pp_layer_face face;
    pp_job_list turns;      /* degrees in [0, 360), the first as listed; at least one */
    const char *place_text; /* as written; NULL */
    size_t place;           /* from the bottom, from 1; 0: any */
    pp_job_file measured;   /* its holes, once drilled */
    const char *serial, *heat_number, *plate_id;
    long line;             /* of the section */
    const long *key_lines; /* for pp_layer_key_line */
} pp_layer;

typedef enum pp_clamp_kind { PP_CLAMP, PP_EDGE_STOP } pp_clamp_kind;

enum { PP_JOB_CLAMPS_MAX = 64 };

/* [clamp NAME]: a clamp that the shop means to set. */
typedef struct pp_job_clamp {
    const char *name;
    double x, y, force;
    double pad; /* diameter; NaN: a point */
    pp_clamp_kind kind;
    long line; /* of the section */
} pp_job_clamp;

/* A user's outright limit, with the line it stands on (0: not given, value NaN). */
typedef struct pp_job_limit {
    double value;
    long line;
} pp_job_limit;

typedef enum pp_correct_use { PP_USE_FIELD, PP_USE_TERMS } pp_correct_use;

typedef struct pp_job {
    const char *path; /* of the job file, as given */
    const char *name; /* its file name without folder and extension */

    /* [job]: every text as written, NULL when absent */
    const char *title, *customer, *order, *item, *plate_id, *plate_role, *serial, *drawing,
        *drawing_revision, *material, *heat_number, *supplier, *procedure, *inspector,
        *inspection_date, *stage, *report_number, *report_revision, *supersedes, *date;
    pp_length_unit units; /* of bare numbers in the job file, and of reports for people */

    struct {
        pp_outline outline;
        double diameter;                  /* disc, segments, annulus */
        double width, height;             /* rectangle, along x and along y */
        double cut_height, cut_angle_deg; /* segments */
        double inner_diameter;            /* annulus */
        pp_job_file outline_file;         /* polygon */
        size_t corner_count;              /* of that file, once it is read; anticlockwise */
        const double *corner_x, *corner_y;
        double centre_x, centre_y;
        double thickness, thickness_variation;
        pp_job_file thickness_points; /* readings x, y, t */
        double elastic_modulus, poisson_ratio, density, yield_strength;
        const char *flatness_rule;       /* extension: name or path of a mill flatness table */
        const char *flatness_rule_place; /* where it is now; NULL: where flatness_rule says */
    } plate;

    struct {
        pp_job_file file;
        pp_job_file underside; /* extension: a second survey, of the underside, same frame */
        pp_column_map columns; /* of the survey, the underside and the three points */
        pp_length_unit length_unit;
        pp_axis up;
        double angle_deg, origin_x, origin_y;
        double uncertainty;
        const char *exclude; /* data rows that count for nothing, "12, 40-44"; NULL: none */
        double flatness_limit;
        double uncertainty_form; /* expanded, of flatness: what all heights have in common */
        double
            smallest_feature; /* NaN: from the survey's pitch; 0: flatness by the readings only */
        pp_zone flatness_zone;
        double area_threshold;
        pp_job_list straightedge, straightedge_limit; /* limits: none, or one per length */
        double parallelism_limit;                     /* extension */
        pp_laid laid;
        pp_job_file three_points;
    } survey;

    struct {
        pp_support_kind kind;
        pp_job_file file;
        pp_column_map columns;
        double pin_diameter, pin_load_limit, pin_pressure_limit;
        double pin_clearance; /* extension: least metal between a pin and any hole, 0 */
        double pin_spacing;   /* extension: of `plateproof pins`; absent: from the sag */
        pp_seat seat;
        double height;    /* support_height */
        double touch_gap; /* NaN: from the fit */
    } support;

    struct {
        double force, outer_diameter, inner_diameter, thrust;
    } foot;

    struct {
        double gap_limit, force_cap, clamp_force_limit, clamp_pad;
        double tilt_limit; /* mm/m; NaN: none */
        pp_over_holes clamp_over_holes;
        pp_drilling_order drilling_order; /* within one set-up */
        pp_job_file clamp_candidates;
        pp_column_map columns; /* of the clamp candidates */
        pp_job_list shim_stock;
        bool ligament_softening; /* extension: effective elastic constants of the drilled region */
    } holddown;

    struct {
        pp_job_file nominal, measured, ligaments;
        pp_job_file commanded;   /* where the machine was sent; NULL path: to the nominal places */
        pp_job_file promise;     /* correction.json beside it, whether there is one or not */
        pp_job_file checks;      /* extension: attribute checks */
        pp_job_file sample_list; /* the holes drawn to be measured, of coverage = sample */
        double sample_seed;      /* that they were drawn with */
        unsigned last_round;     /* measured rows of later rounds are passed over; 0: none. No key:
                                    for who asks how the plate was then */
        pp_column_map nominal_columns, measured_columns, ligaments_columns, checks_columns,
            datum_points_columns;
        pp_word_list ignore_columns; /* of any hole file: known to say nothing about a reading */
        pp_length_unit length_unit;
        double tube_diameter, pitch;
        double tube_holes;                 /* how many the drawing has, plugged ones included */
        pp_length_unit tube_diameter_unit; /* as written: picks the table */
        const char *tube_diameter_text;    /* as written */
        const char *entry_face_is;
        size_t face_name_count;
        const pp_face_name *face_names;
        pp_exit_view exit_view;
        pp_exit_align exit_align;
        pp_align align;
        pp_matching match;          /* extension: match = *nearest | pattern (unknown frame) */
        const char *datum_holes[2]; /* NULL when absent */
        pp_job_file datum_points;
        double position_limit;
        double pattern_limit; /* extension: of the pattern's place on the datum (composite) */
        pp_material material_condition;
        pp_coverage coverage;
        double confidence; /* extension: of sampling statements, 0.95 */
        double temperature;
        bool compensated;
        double expansion;
        double uncertainty_position, uncertainty_per_metre, uncertainty_temperature,
            uncertainty_diameter, uncertainty_ligament;
        double uncertainty_expansion; /* relative; a default expansion away from 20 C has its own */
        double common_share;          /* extension: share of the variance common to all holes, 0 */
        double pitch_steps, pitch_error_limit; /* extension: pitch over so many steps */
        double edge_ligament_minimum, other_ligament_minimum;
    } holes;

    struct {
        const char *set; /* "tema-style" or a path or another built-in's name, as written */
        long set_line;
        const char *set_place; /* where the rule file is now; NULL: where `set` says */
        pp_part part;
        bool tubesheet; /* the job calls a tube plate so */
        pp_fit fit;
        bool table_given;
        pp_table table; /* resolved when not given: the unit written with tube_diameter */
        double unsupported_span;
        pp_decision decision;
        double remainder_share;
        pp_ligament_face ligament_face;
        pp_job_limit hole_nominal, hole_under, hole_over, hole_over_limit, ligament_standard,
            ligament_minimum, drift_limit;
    } rules;

    struct {
        const char *order_text, *search_text; /* as written; NULL */
        const size_t *order;                  /* [layer_count] layers, bottom first */
        double gap_limit;                     /* between layers */
        bool search_order, search_face, search_turn;
        pp_stack_aim aim;
        double uncertainty_wander; /* expanded (k = 2), at mid height of a drilled stack */
    } stack;
    size_t clamp_count; /* none: clamps are looked for */
    const pp_job_clamp *clamps;
    size_t layer_count;
    const pp_layer *layers; /* as their sections stand */

    struct {
        pp_job_file measured;
        double seconds_roughing, seconds_finishing; /* per hole */
    } roughing;

    struct {
        const char *name, *serial, *operator_name, *program, *drilled; /* date YYYY-MM-DD */
        double drilling_temperature;
        double seconds_per_hole, seconds_per_setup, holes_per_tool;
    } machine;

    struct {
        pp_word_list from; /* report folders, as written */
        pp_job_file history;
        double last; /* the most recent plates of the history */
        pp_correct_use use;
        pp_word_list machine_sets; /* scale, squareness: set at the machine, not in the list */
        double cap, step;
    } correct;

    size_t instrument_count;
    const pp_instrument *instruments;

    const long *key_lines; /* for pp_job_key_line; NULL when no file was read */
    const bool *key_bare;  /* for pp_job_key_bare; likewise */
} pp_job;

/* Read and check the job file at `path`.
 *
 * given    path    of the file
 * memory   keep    the job and its texts
 * out      job     filled only on success
 * errors   PP_EINPUT with file and line; PP_EIO: it cannot be read; PP_ENOMEM
 *
 * Reads no other file; does not check that the named files exist. What a command needs beyond
 * (a thickness for the hold-down, a row of the rule table) is for the stage that needs it.
 */
pp_status pp_job_read(const char *path, pp_memory *memory, pp_job *job, pp_error *error);

/* The same from text[length]; `path` names it in messages, and data files are beside it.
 * errors   PP_EINPUT with file and line; PP_ENOMEM */
pp_status pp_job_parse(const char *path, const char *text, size_t length, pp_memory *memory,
                       pp_job *job, pp_error *error);

/* All that is wrong with a job file, each on its own, as far as one problem hides no other. */
typedef struct pp_job_problems {
    size_t count;
    bool more; /* beyond PP_PROBLEMS_MAX, not looked for */
    pp_problem problem[PP_PROBLEMS_MAX];
} pp_job_problems;

/* As pp_job_parse, and goes on after a problem: lines that are no INI text; else every section, key
 * and value that is wrong; else keys that contradict each other.
 *
 * out      problems  empty exactly where the job is sound; *error is the first of them; texts in
 *                    memory->keep
 * errors   PP_EINPUT: there are problems; PP_ENOMEM */
pp_status pp_job_parse_noted(const char *path, const char *text, size_t length, pp_memory *memory,
                             pp_job *job, pp_job_problems *problems, pp_error *error);

/* A job that says nothing: every default filled in, every other value absent. For callers that
 * build a job without a file.
 * errors   PP_ENOMEM */
pp_status pp_job_blank(pp_memory *memory, pp_job *job, pp_error *error);

/* The line of the job file that gives this key a value; 0 if none does. Not for sections that have
 * a name: [instrument ...], [layer ...], [clamp ...]. */
long pp_job_key_line(const pp_job *job, const char *section, const char *key);
/* The same for a key of a layer's own section. */
long pp_layer_key_line(const pp_layer *layer, const char *key);

/* The plate's outline, to hand to those who need no more of the job. A polygon whose corners were
 * not read (pp_outline_read) is none. */
static inline pp_outline_spec pp_job_outline(const pp_job *job)
{
    bool unread = job->plate.outline == PP_OUTLINE_POLYGON && !job->plate.corner_count;
    return (pp_outline_spec){.kind = unread ? PP_OUTLINE_NONE : job->plate.outline,
                             .diameter = job->plate.diameter,
                             .width = job->plate.width,
                             .height = job->plate.height,
                             .cut_height = job->plate.cut_height,
                             .cut_angle_deg = job->plate.cut_angle_deg,
                             .inner_diameter = job->plate.inner_diameter,
                             .corner_count = job->plate.corner_count,
                             .corner_x = job->plate.corner_x,
                             .corner_y = job->plate.corner_y,
                             .centre_x = job->plate.centre_x,
                             .centre_y = job->plate.centre_y};
}

/* Whether this key was given as a number without a unit. */
bool pp_job_key_bare(const pp_job *job, const char *section, const char *key);

/* The instrument of that name, NULL if none. */
const pp_instrument *pp_job_instrument(const pp_job *job, const char *name);

#endif
