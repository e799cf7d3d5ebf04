/* The set: what the set file says about a bundle, read once, checked, units converted, defaults
 * filled. Const from then on. Lengths mm, forces N, moduli and stresses MPa, shares 0..1; a real
 * that was not given is NaN, a text or file NULL. */
#ifndef PP_BUNDLE_SET_H
#define PP_BUNDLE_SET_H

#include "bundle/discs.h"
#include "input/job/job.h"

typedef enum pp_bundle_match { PP_MATCH_NAMES, PP_MATCH_PLACES } pp_bundle_match;
typedef enum pp_bundle_placement { PP_PLACE_BEST, PP_PLACE_AS_SET_OUT } pp_bundle_placement;
typedef enum pp_bundle_accept { PP_ACCEPT_STRAIGHT, PP_ACCEPT_BENDING } pp_bundle_accept;
typedef enum pp_plate_role { PP_ROLE_BAFFLE, PP_ROLE_FRONT, PP_ROLE_REAR } pp_plate_role;
typedef enum pp_station_of { PP_STATION_MIDDLE, PP_STATION_FRONT, PP_STATION_REAR } pp_station_of;
typedef enum pp_seen_from { PP_FROM_FRONT, PP_TURNED_X, PP_TURNED_Y } pp_seen_from;
typedef enum pp_looks { PP_LOOKS_BY_VIEW, PP_LOOKS_FRONT, PP_LOOKS_REAR } pp_looks;
typedef enum pp_set_align { PP_SET_ALIGN_BY_JOB, PP_SET_AS_MEASURED, PP_SET_BEST_FIT } pp_set_align;

typedef struct pp_set_plate {
    const char *name;
    long line; /* of its section */
    pp_plate_role role;
    pp_job_file job_file, nominal, measured;
    pp_length_unit length_unit;
    bool length_unit_given;
    pp_exit_view exit_view;
    bool exit_view_given;
    pp_set_align align;
    double station; /* as written */
    pp_station_of station_of;
    double thickness;
    pp_seen_from view;
    pp_looks entry_looks;
    double turn_deg;
    double shift_x, shift_y;
    double play, play_angle_deg;

    const pp_job *job; /* its job file as read, or one made of the keys above; never NULL */
    double front;      /* station of its front face */
} pp_set_plate;

typedef struct pp_set {
    const char *path, *name; /* of the set file: as given; without folder and extension */
    const pp_job *job;       /* [job]: identity and units */

    const char *title;
    pp_length_unit units;
    pp_bundle_match match;
    pp_bundle_placement placement;
    pp_bundle_accept accept;
    double clearance_minimum, friction, push_limit, stress_share;
    pp_decision decision;
    double uncertainty_position, uncertainty_per_metre, uncertainty_diameter, uncertainty_placement;

    struct {
        double diameter, diameter_over, wall, elastic_modulus, yield_strength;
        pp_job_file places;
    } tube;

    size_t plate_count;
    const pp_set_plate *plates; /* from the front to the rear */
} pp_set;

/* Where the files of a set are now, when they do not lie about it as they did. */
typedef struct pp_set_places {
    const char *name; /* of the set; NULL: its file's */
    /* the file that was written so, seen from the set file; NULL: where it says */
    const char *(*find)(const void *context, const char *written);
    const void *context;
} pp_set_places;

/* Read the set file at `path`, and the job files that it names; `places` may be NULL.
 * errors  PP_EINPUT with file and line; PP_EIO: the set or a job file cannot be read; PP_ENOMEM */
pp_status pp_set_read(const char *path, const pp_set_places *places, pp_memory *memory, pp_set *set,
                      pp_error *error);

/* Can bending be computed, and the push? */
bool pp_set_bends(const pp_set *set);

const char *pp_plate_role_name(pp_plate_role role); /* "front tube plate" */

#endif
