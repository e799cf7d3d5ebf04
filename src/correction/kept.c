#include "correction/kept.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "base/text.h"
#include "correction/plate.h"

/* The promised rms of the file: median and high. */
static bool read_promise(const char *path, double *median, double *high)
{
    json_error_t why;
    json_t *root = json_load_file(path, 0, &why);
    const char *format = json_string_value(json_object_get(root, "format"));
    const json_t *rms = json_object_get(json_object_get(root, "promise"), "rms_after");
    const json_t *first = json_array_get(rms, 0), *last = json_array_get(rms, 2);
    bool told = format && strcmp(format, "plateproof-correction") == 0 && json_is_number(first) &&
                json_is_number(last);
    *median = json_number_value(first), *high = json_number_value(last);
    json_decref(root);
    return told;
}

static bool takes_part(const pp_measures *m, const pp_diagnosis *d, size_t hole)
{
    if (m->nominal->kind[hole] != PP_TUBE_HOLE || m->bore_of[PP_ENTRY][hole] == PP_NONE ||
        m->plugged[hole])
        return false;
    for (size_t i = 0; i < d->misdrilled_count; i++)
        if (d->misdrilled[i] == hole) return false;
    return true;
}

/* Of the entry face, against the drawing. */
static pp_status measure(const pp_measures *m, const pp_diagnosis *d, pp_arena *scratch,
                         double *rms, pp_error *error)
{
    double *x, *y, *ex, *ey, sum = 0;
    size_t n = 0;
    PP_TAKE(x, scratch, m->nominal->count);
    PP_TAKE(y, scratch, m->nominal->count);
    PP_TAKE(ex, scratch, m->nominal->count);
    PP_TAKE(ey, scratch, m->nominal->count);
    for (size_t i = 0; i < m->nominal->count; i++) {
        if (!takes_part(m, d, i)) continue;
        const pp_bore *bore = &m->bores[m->bore_of[PP_ENTRY][i]];
        x[n] = m->nominal->x[i], y[n] = m->nominal->y[i];
        ex[n] = bore->at.x - x[n], ey[n] = bore->at.y - y[n];
        n++;
    }
    pp_take_rigid_out(x, y, NULL, n, ex, ey);
    for (size_t i = 0; i < n; i++) sum += ex[i] * ex[i] + ey[i] * ey[i];
    *rms = n ? sqrt(sum / (double)n) : NAN;
    return PP_OK;
}

pp_status pp_promise_check(const char *list, const pp_measures *measures,
                           const pp_diagnosis *diagnosis, pp_memory *memory, pp_promise_kept *kept,
                           pp_error *error)
{
    pp_promise_kept k = {0};
    pp_mark mark = pp_arena_mark(&memory->scratch);
    const char *slash = strrchr(list, '/');
    const char *path = pp_text_kept(&memory->scratch, "%.*scorrection.json",
                                    slash ? (int)(slash - list) + 1 : 0, list);
    pp_status status = path ? PP_OK : pp_fail_memory(error);
    if (status == PP_OK) k.told = read_promise(path, &k.median, &k.high);
    if (k.told) status = measure(measures, diagnosis, &memory->scratch, &k.rms, error);
    pp_arena_release(&memory->scratch, mark);
    k.kept = k.rms <= k.high;
    if (status == PP_OK) *kept = k;
    return status;
}
