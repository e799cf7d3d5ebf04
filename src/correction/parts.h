/* Inside the correction: what its steps share. */
#ifndef PP_CORRECTION_PARTS_H
#define PP_CORRECTION_PARTS_H

#include "correction/correction.h"

typedef struct pp_correcting {
    const pp_correct_options *options;
    pp_memory *memory;
    pp_correction *out;
    size_t count;                                      /* tube holes of the next list */
    const uint32_t *hole;                              /* [count] their indices */
    double *x, *y;                                     /* [count] */
    double *ax[PP_STATIC_TERMS], *ay[PP_STATIC_TERMS]; /* fields of the terms there, rigid out */
    double radius;
    uint32_t **at;  /* [plates][plate's holes]: place among the tube holes, PP_NONE */
    bool has_field; /* same pattern and three plates */
    pp_field_data data;
    double *field;    /* [2 count] the error that repeats beside the terms; 0 where not used */
    double field_cut; /* mm2: what the field takes off the mean square of a plate left out */
} pp_correcting;

/* ---- correction.c ---- */
/* How much of term k is corrected: what the machine is set to in full, what the list carries by the
 * factor of the cap. Needs the shift. */
double pp_correct_applied(const pp_correcting *c, int k);

/* ---- leave_out.c ---- */
/* Try the correction on each plate by the others; decides on the field. errors: PP_ENOMEM */
pp_status pp_correct_leave_out(pp_correcting *c, pp_error *error);

/* ---- promise.c ---- */
/* 4000 draws of the next plate. Needs terms, field and shift. errors: PP_ENOMEM */
pp_status pp_correct_promise(pp_correcting *c, pp_error *error);

/* ---- copies.c ---- */
/* Is one of the plates another one again, under a new name?
 * errors   PP_EINPUT: says which two; PP_ENOMEM */
pp_status pp_refuse_copies(const pp_drilled_plate *plates, size_t count, pp_arena *scratch,
                           pp_error *error);

#endif
