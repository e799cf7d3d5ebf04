/* A report as a history keeps it: results.json of a report folder, and the holes of holes.csv. */
#ifndef PP_HISTORY_REPORT_H
#define PP_HISTORY_REPORT_H

#include <stdbool.h>
#include <stddef.h>

#include "process/capability.h"

typedef struct pp_kept_figure {
    const char *name, *unit;
    double value, lower, upper, u; /* NaN: none */
} pp_kept_figure;

typedef struct pp_kept_tally {
    const char *name;
    size_t count, of;
} pp_kept_tally;

typedef struct pp_kept_term {
    const char *name, *unit, *state;
    double value, standard_error, p_adjusted, worst_effect;
} pp_kept_term;

typedef struct pp_kept_tool {
    const char *tool;
    size_t first_order, holes, used_before;
    double level, slope, slope_se, scatter;
} pp_kept_tool;

typedef struct pp_kept_input {
    const char *role, *file, *sha256;
} pp_kept_input;

/* Texts are "" where a key of a plate's identity is absent, else NULL; reals NaN. */
typedef struct pp_kept_report {
    const char *folder; /* absolute */
    char results_sha256[65], inputs_sha256[65];
    const char *order_number, *item, *plate_id, *serial;
    const char *plate_role, *material, *heat_number, *supplier;
    const char *outline;
    double size_x, size_y, thickness;
    const char *stage, *report_number, *revision, *inspection_date, *drilled_date;
    const char *machine, *machine_serial, *operator_name, *program, *inspector, *instrument;
    double drilling_temperature;
    double scale_u; /* standard uncertainty of the measured scale, relative */
    const char *verdict, *basis, *alignment, *pattern_sha256, *commanded_sha256, *tool_version;
    size_t figure_count, tally_count, term_count, tool_count, input_count;
    const pp_kept_figure *figures;
    const pp_kept_tally *tallies;
    const pp_kept_term *terms;
    const pp_kept_tool *tools;
    const pp_kept_input *inputs;
    size_t left_out_count; /* holes of another kind than tube holes, or plugged */
    const char *const *left_out;
    bool face_given[2]; /* entry, exit */
    pp_plate_moments face[2];
} pp_kept_report;

/* Read the report in `folder`. Everything lives in memory->keep.
 *
 * persons  keep operator and inspector
 * errors   PP_EINPUT  no report of plateproof, a newer one, one without identity (neither plate_id
 *                     nor serial), a date that is none
 *          PP_EIO     missing or unreadable; PP_ENOMEM */
pp_status pp_kept_report_read(const char *folder, bool persons, int threads, pp_memory *memory,
                              pp_kept_report *report, pp_error *error);

/* The same of any report, named or not, without persons. errors: PP_EINPUT, PP_EIO as above;
 * PP_ENOMEM */
pp_status pp_kept_report_read_any(const char *folder, int threads, pp_memory *memory,
                                  pp_kept_report *report, pp_error *error);

/* SHA-256 of the folder's results.json. errors: PP_EIO: it cannot be read */
pp_status pp_kept_report_hash(const char *folder, char sha256[65], pp_arena *scratch,
                              pp_error *error);

/* Is this text a date YYYY-MM-DD that exists? Only such texts sort as dates do. */
bool pp_is_iso_date(const char *text);

#endif
