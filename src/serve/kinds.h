/* What a run is for, and the folder that it leaves beside its subject (a job, a bundle's set, a
 * history). */
#ifndef PP_SERVE_KINDS_H
#define PP_SERVE_KINDS_H

#include <stdbool.h>

#include "base/memory.h"

typedef struct pp_run_kind {
    const char *name;   /* as the page asks for it */
    const char *ending; /* of the folder: "-report" in NAME-report */
    const char *page;   /* the page in it */
    bool tells;         /* what the command says is its result, too: it is kept */
} pp_run_kind;

extern const pp_run_kind pp_kind_report;
extern const pp_run_kind pp_kind_live;       /* measured so far */
extern const pp_run_kind pp_kind_compared;   /* with another plate, or round with round */
extern const pp_run_kind pp_kind_correction; /* a corrected list for this plate */
extern const pp_run_kind pp_kind_history;    /* of many plates */

/* The kind of that name; the report for NULL, NULL where there is none. */
const pp_run_kind *pp_kind_find(const char *name);

/* "a/NAME-report" of "a/NAME.ini". NULL when memory ran out. */
char *pp_kind_folder(const pp_run_kind *kind, const char *subject, pp_arena *arena);

#endif
