/* Hole lists as read: the nominal pattern, the readings, direct ligaments, attribute checks.
 * Lengths mm. A real that was not given is NaN, a text NULL. Data row i + 1 holds item i.
 * Where a single place is handed on it has a type of its frame (base/points.h). */
#ifndef PP_INPUT_LISTS_HOLELIST_H
#define PP_INPUT_LISTS_HOLELIST_H

#include <stdint.h>

#include "base/names.h"
#include "base/points.h"
#include "base/reading.h"
#include "input/job/job.h"

#define PP_NONE UINT32_MAX /* no such index */

typedef enum pp_hole_kind { PP_TUBE_HOLE, PP_OTHER_HOLE } pp_hole_kind;
typedef enum pp_face { PP_ENTRY, PP_EXIT } pp_face;

typedef struct pp_nominal {
    size_t count;
    const char *const *name; /* unique */
    const double *x, *y;
    const uint8_t *kind;                   /* pp_hole_kind */
    const double *diameter, *under, *over; /* of kind other; NULL when no such column */
    /* where the machine was sent instead of x, y; NULL: nowhere else. What causes are sought from;
     * no measure and no limit looks at it. */
    const double *commanded_x, *commanded_y;
    const pp_table_reading *commanded_reading;
    bool derived; /* the list was made from the measured holes (its column `derived`) */
    const char *file;
    const pp_table_reading *reading;
    pp_names names; /* the table of `name`, in the scratch of the reader; no slots: not made */
} pp_nominal;

/* Where the machine was sent to drill the hole. */
static inline pp_nominal_point pp_commanded_at(const pp_nominal *nominal, size_t hole)
{
    bool own = nominal->commanded_x != NULL;
    return (pp_nominal_point){own ? nominal->commanded_x[hole] : nominal->x[hole],
                              own ? nominal->commanded_y[hole] : nominal->y[hole]};
}

/* Where the drawing has the hole. */
static inline pp_nominal_point pp_nominal_at(const pp_nominal *nominal, size_t hole)
{
    return (pp_nominal_point){nominal->x[hole], nominal->y[hole]};
}

typedef struct pp_readings {
    size_t count;
    const char *const *name; /* NULL when the list has no names; an item may be "" */
    const double *x, *y;     /* measurement frame */
    const double *diameter;  /* NaN where a gauge was used instead */
    const uint8_t *face;     /* pp_face */
    const uint32_t *round;   /* from 1 */
    const double *order;     /* drilling order; NULL when no such column; NaN where empty */
    const char *const *disposition, *const *reference; /* NULL when no such column */
    /* who drilled and measured it: the clamping, the measuring session, the spindle; NULL when no
     * such column, "" where empty */
    const char *const *setup, *const *session, *const *spindle;
    const char *const *tool; /* that drilled it; likewise */
    const double *tool_used; /* holes it had drilled before, since it was new; NULL, NaN likewise */
    const int8_t *go, *no_go, *no_go_max; /* -1 not tried, 0 no, 1 yes; NULL when no such column */
    bool averaged; /* repeats differ in an ignored column of small whole numbers: perhaps rounds */
    size_t remark_count; /* sentences about how the list was read, to stand beside the verdict */
    const char *const *remarks;
    const char *file;
    const pp_table_reading *reading;
    const long *line; /* physical line of each row */
} pp_readings;

typedef struct pp_direct_ligament {
    const char *hole_a, *hole_b;
    double ligament;
    pp_face face;
    long line;
} pp_direct_ligament;

typedef struct pp_check_row { /* attribute check of one hole: groove, chamfer, finish, burrs */
    const char *hole, *characteristic;
    double value, low, high; /* NaN: not given; in the units written */
    int result;              /* -1 not given, 0 rejected, 1 accepted */
    long line;
} pp_check_row;

typedef struct pp_datum_point {
    const char *name;
    double nominal_x, nominal_y, x, y;
} pp_datum_point;

typedef struct pp_hole_files {
    pp_nominal nominal;
    bool measured_given;
    const pp_job_file *measured_file; /* as the job names it */
    pp_readings measured;
    size_t ligament_count;
    const pp_direct_ligament *ligaments;
    const char *ligaments_file;
    const pp_table_reading *ligaments_reading, *checks_reading, *datum_reading;
    size_t check_count;
    const pp_check_row *checks;
    const char *checks_file;
    size_t sample_count; /* the holes that were drawn to be measured; 0: no such list */
    const uint32_t *sample;
    const pp_table_reading *sample_reading;
    size_t datum_count;
    const pp_datum_point *datum;
    /* the plate of a set: how it is turned and shifted there is looked at with the others */
    bool placed_later;
} pp_hole_files;

/* Read every hole file the job names (nominal required). The table of nominal names stays in
 * scratch, for those who match by name; who releases it clears nominal.names.
 * errors   PP_EINPUT with file, line and column: a list that is wrong, or does not fit the others;
 *          PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_holelist_read(const pp_job *job, int threads, pp_memory *memory, pp_hole_files *files,
                           pp_error *error);
/* The same with another measured list: that of a layer, or of the roughing pass. The job's lists of
 * ligaments and checks are not of it and are left alone.
 * errors   PP_EINPUT, PP_EIO as pp_holelist_read; PP_ENOMEM */
pp_status pp_holelist_read_of(const pp_job *job, const pp_job_file *measured, int threads,
                              pp_memory *memory, pp_hole_files *files, pp_error *error);
/* The nominal list alone; its table of names likewise. errors: PP_EINPUT: no rows, a name or a
 * centre twice, a cell that is wrong; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_nominal_read(const pp_job *job, int threads, pp_memory *memory, pp_nominal *nominal,
                          pp_error *error);

/* A nominal list that another file than a job names. */
typedef struct pp_list_named {
    const char *named_in; /* that file, for messages */
    const pp_job_file *file;
    pp_length_unit unit; /* of bare numbers */
} pp_list_named;
/* The same of such a list, of no outline and without header words of its own. errors: as
 * pp_nominal_read */
pp_status pp_nominal_read_named(const pp_list_named *list, int threads, pp_memory *memory,
                                pp_nominal *nominal, pp_error *error);

/* The measured list alone (job->holes.measured), of a plate that has no nominal one.
 * errors   PP_EINPUT: no rows, a cell that is wrong; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_readings_read(const pp_job *job, int threads, pp_memory *memory, pp_readings *readings,
                           pp_error *error);

/* Points of a plain x,y[,z] list: support pins, clamp candidates, the three survey supports. */
typedef struct pp_place_list {
    size_t count;
    const double *x, *y, *z; /* z 0 when there is no such column */
    const pp_table_reading *reading;
    const long *line; /* of the file; NULL: not from a file */
} pp_place_list;
/* Read such a list; bare numbers are in the units of the survey (three points) or of the job.
 * memory   keep: the coordinates
 * errors   PP_EINPUT with line and column: no rows, or a cell that is no number; PP_EIO: it cannot
 *          be read; PP_ENOMEM */
pp_status pp_places_read(const pp_job *job, const pp_job_file *file, pp_memory *memory,
                         pp_place_list *places, pp_error *error);

#endif
