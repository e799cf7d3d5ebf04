/* Lean: the mean step from entry to exit, tested as one vector (Hotelling, Ann. Math. Statist. 2
 * (1931) 360), robustly and with serial correlation allowed for. */
#ifndef PP_CAUSES_LEAN_H
#define PP_CAUSES_LEAN_H

#include "holes/measures.h"

enum { PP_LEAN_HOLES_MIN = 10 };

typedef struct pp_lean {
    size_t holes; /* read on both faces, tube holes not plugged */
    bool tested;
    const char *why_not;   /* where it is not */
    double x, y;           /* mm, exit - entry */
    double standard_error; /* of its length, along it */
    double p;
} pp_lean;

/* `order` lists the tube holes (nominal indices) in drilling order.
 * errors   PP_ENUMERIC as pp_robust_solve; PP_ENOMEM */
pp_status pp_lean_find(const pp_measures *measures, size_t count, const uint32_t *order,
                       int threads, pp_arena *scratch, pp_lean *lean, pp_error *error);

#endif
