#include "causes/promise_kept.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

#include "base/compare.h"
#include "causes/error_field.h"

/* The promised rms of the file. */
static bool read_promise(const char *path, pp_promise_kept *k)
{
    json_t *root = json_load_file(path, 0, NULL);
    const char *format = json_string_value(json_object_get(root, "format"));
    const json_t *rms = json_object_get(json_object_get(root, "promise"), "rms_after");
    double value[3];
    bool told = format && strcmp(format, "plateproof-correction") == 0 && json_array_size(rms) == 3;
    for (size_t i = 0; i < 3 && told; i++) {
        told = json_is_number(json_array_get(rms, i));
        value[i] = json_number_value(json_array_get(rms, i));
    }
    json_decref(root);
    if (told) k->median = value[0], k->low = value[1], k->high = value[2];
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

pp_status pp_promise_check(const char *path, const pp_measures *measures,
                           const pp_diagnosis *diagnosis, pp_memory *memory, bool *told,
                           pp_promise_kept *kept, pp_error *error)
{
    pp_promise_kept k = {0};
    *told = read_promise(path, &k);
    if (!*told) return PP_OK;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    pp_status status = measure(measures, diagnosis, &memory->scratch, &k.rms, error);
    pp_arena_release(&memory->scratch, mark);
    k.kept = pp_at_most(k.rms, k.high);
    if (status == PP_OK) *kept = k;
    return status;
}
