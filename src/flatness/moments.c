#include "flatness/moments.h"

#include <math.h>
#include <string.h>

#include "base/parallel.h"

enum {
    BLOCK = 512,         /* points placed in the mesh at a time */
    PART_POINTS = 32768, /* least points of a part */
    PARTS_MAX = 32,
    FAR_ROOM = 1024, /* far points of a part that a single pass lists */
    BASE_POINTS = 4096,
    /* histogram of |e|: 32 bins an octave from 2^-40 mm to 2^24 mm, read off a double's bits */
    BIN_SHIFT = 47,
    BIN_FIRST = (1023 - 40) * 32,
    BINS = 64 * 32
};
static const uint32_t no_cell = UINT32_MAX;
static const double beyond_max = 1.5;  /* |u|, |v| of a point still used: a quarter cell outside */
static const double huber_share = 2.5; /* scales; P. J. Huber, Robust Statistics */

static size_t part_count(size_t points)
{
    size_t parts = points / PART_POINTS;
    return parts < 1 ? 1 : parts > PARTS_MAX ? PARTS_MAX : parts;
}

/* ---- points in the mesh ---- */

typedef struct block {
    size_t count;
    uint32_t cell[BLOCK]; /* no_cell: not used */
    double u[BLOCK], v[BLOCK], z[BLOCK];
} block;

/* A point in no active cell: its nearest one, unless that is too far. */
static uint32_t place_beyond(const pp_mesh *mesh, double s, double t, double *u, double *v)
{
    pp_mesh_place p = pp_mesh_find(mesh, mesh->x0 + s * mesh->hx, mesh->y0 + t * mesh->hy);
    *u = 2 * (s - (double)p.i) - 1;
    *v = 2 * (t - (double)p.j) - 1;
    bool near = fabs(*u) <= beyond_max && fabs(*v) <= beyond_max;
    return near ? (uint32_t)(p.j * mesh->nx + p.i) : no_cell;
}

/* The survey's arrays as the plate's axes: `up` only permutes them and turns signs. Taking that out
 * of the loop over the points lets it run on vectors, with the very numbers of pp_survey_to_plate.
 */
typedef struct axes {
    const double *x, *y, *z;
    double sign_y, sign_z; /* x never turns */
} axes;

static axes plate_axes(const pp_survey *s)
{
    switch (s->frame.up) {
    case PP_UP_X:
        return (axes){s->y, s->z, s->x, 1, 1};
    case PP_UP_Y:
        return (axes){s->z, s->x, s->y, 1, 1};
    case PP_UP_MINUS_Z:
        return (axes){s->x, s->y, s->z, -1, -1};
    case PP_UP_MINUS_X:
        return (axes){s->y, s->z, s->x, -1, -1};
    case PP_UP_MINUS_Y:
        return (axes){s->z, s->x, s->y, -1, -1};
    default:
        return (axes){s->x, s->y, s->z, 1, 1};
    }
}

/* Cells from the mesh's lower corner (into u, v) and height above the base plane. */
static void to_cells(const pp_survey_pass *pass, size_t begin, block *out)
{
    const pp_mesh *mesh = pass->mesh;
    const pp_survey_frame frame = pass->survey->frame;
    const pp_base_plane base = pass->base;
    const axes a = plate_axes(pass->survey);
    const double per_x = 1 / mesh->hx, per_y = 1 / mesh->hy, x0 = mesh->x0, y0 = mesh->y0;
    const double centre_x = mesh->centre_x, centre_y = mesh->centre_y;
    const double *px = a.x + begin, *py = a.y + begin, *pz = a.z + begin;
    for (size_t k = 0; k < out->count; k++) {
        double qx = px[k], qy = a.sign_y * py[k];
        double x = frame.cosine * qx - frame.sine * qy + frame.origin_x;
        double y = frame.sine * qx + frame.cosine * qy + frame.origin_y;
        out->u[k] = (x - x0) * per_x;
        out->v[k] = (y - y0) * per_y;
        out->z[k] = a.sign_z * pz[k] - base.height - base.slope_x * (x - centre_x) -
                    base.slope_y * (y - centre_y);
    }
}

static void place_block(const pp_survey_pass *pass, size_t begin, size_t end, block *out)
{
    const pp_mesh *mesh = pass->mesh;
    const double nx = (double)mesh->nx, ny = (double)mesh->ny;
    const uint32_t columns = (uint32_t)mesh->nx;
    out->count = end - begin;
    to_cells(pass, begin, out);
    for (size_t k = 0; k < out->count; k++) {
        double s = out->u[k], t = out->v[k];
        if (s >= 0 && t >= 0 && s < nx && t < ny) {
            int32_t i = (int32_t)s, j = (int32_t)t;
            uint32_t cell = (uint32_t)j * columns + (uint32_t)i;
            out->cell[k] = cell;
            out->u[k] = 2 * (s - i) - 1;
            out->v[k] = 2 * (t - j) - 1;
            if (mesh->fraction[cell] > 0) continue;
        }
        out->cell[k] = place_beyond(mesh, s, t, &out->u[k], &out->v[k]);
    }
}

pp_base_plane pp_survey_base_plane(const pp_survey *survey, const pp_mesh *mesh)
{
    size_t step = (survey->count + BASE_POINTS - 1) / BASE_POINTS, n = 0;
    double x, y, z, first, scale = fmax(mesh->width, mesh->height);
    pp_survey_to_plate(&survey->frame, survey->x[0], survey->y[0], survey->z[0], &x, &y, &first);
    double sx = 0, sy = 0, sz = 0, xx = 0, xy = 0, yy = 0, xz = 0, yz = 0;
    for (size_t k = 0; k < survey->count; k += step, n++) {
        pp_survey_to_plate(&survey->frame, survey->x[k], survey->y[k], survey->z[k], &x, &y, &z);
        double p = (x - mesh->centre_x) / scale, q = (y - mesh->centre_y) / scale;
        z -= first;
        sx += p, sy += q, sz += z;
        xx += p * p, xy += p * q, yy += q * q, xz += p * z, yz += q * z;
    }
    double count = (double)n, mx = sx / count, my = sy / count, mz = sz / count;
    xx -= mx * sx, xy -= mx * sy, yy -= my * sy, xz -= mx * sz, yz -= my * sz;
    double det = xx * yy - xy * xy, a = 0, b = 0;
    if (det > 1e-9 * (xx + yy) * (xx + yy)) { /* else the sample lies in a line: no tilt */
        a = (xz * yy - yz * xy) / det;
        b = (yz * xx - xz * xy) / det;
    }
    return (pp_base_plane){
        .height = first + mz - a * mx - b * my, .slope_x = a / scale, .slope_y = b / scale};
}

/* ---- moments ---- */

static inline void add_moments(pp_cell_moments *cell, double u, double v, double z, double weight)
{
    double vp[8] = {1, v};
    for (int b = 2; b < 7; b++) vp[b] = vp[b - 1] * v;
    vp[7] = 0;
    double up = weight;
    for (int a = 0; a < 7; a++) {
        for (int b = 0; b < 8; b++) cell->m[a][b] += up * vp[b];
        if (a < 4) {
            double zup = z * up;
            for (int b = 0; b < 4; b++) cell->mz[a][b] += zup * vp[b];
        }
        up *= u;
    }
}

static unsigned eighth(double u)
{
    int k = (int)(4 * (u + 1));
    return (unsigned)(k < 0 ? 0 : k > 7 ? 7 : k);
}

static inline double evaluate(const pp_cell_polynomial *p, double u, double v)
{
    double row[4];
    for (int a = 0; a < 4; a++)
        row[a] = p->c[a][0] + v * (p->c[a][1] + v * (p->c[a][2] + v * p->c[a][3]));
    return row[0] + u * (row[1] + u * (row[2] + u * row[3]));
}

typedef struct gathering {
    const pp_survey_pass *pass;
    const pp_cell_polynomial *surface; /* NULL: every weight 1 */
    double clip;                       /* |e| beyond which weights fall below 1 */
    size_t parts;
    pp_survey_moments *part; /* [parts] */
} gathering;

static void gather_plain(const gathering *g, const block *points, pp_survey_moments *sums)
{
    (void)g;
    for (size_t k = 0; k < points->count; k++) {
        uint32_t cell = points->cell[k];
        if (cell == no_cell) continue;
        double u = points->u[k], v = points->v[k], z = points->z[k];
        add_moments(&sums->cells[cell], u, v, z, 1);
        sums->seen[cell] |= (uint64_t)1 << (8 * eighth(v) + eighth(u));
        sums->zz += z * z;
        sums->count++;
    }
}

/* What the weights below 1 take away from the plain sums; weight and zz are whole. */
static void gather_difference(const gathering *g, const block *points, pp_survey_moments *sums)
{
    for (size_t k = 0; k < points->count; k++) {
        uint32_t cell = points->cell[k];
        if (cell == no_cell) continue;
        double u = points->u[k], v = points->v[k], z = points->z[k], weight = 1;
        double e = fabs(z - evaluate(&g->surface[cell], u, v));
        if (e > g->clip) {
            weight = g->clip / e;
            add_moments(&sums->cells[cell], u, v, z, weight - 1);
        }
        sums->weight += weight;
        sums->zz += weight * z * z;
    }
}

static pp_status gather_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const gathering *g = context;
    size_t count = g->pass->survey->count;
    size_t begin = pp_part_begin(count, g->parts, part);
    size_t end = pp_part_begin(count, g->parts, part + 1);
    pp_survey_moments sums = g->part[part];
    block points;
    for (size_t at = begin; at < end; at += BLOCK) {
        place_block(g->pass, at, at + BLOCK < end ? at + BLOCK : end, &points);
        (g->surface ? gather_difference : gather_plain)(g, &points, &sums);
    }
    g->part[part] = sums;
    return PP_OK;
}

/* Zeroed sums of every part, and the parts run. */
static pp_status run_parts(gathering *g, pp_memory *memory, pp_error *error)
{
    size_t cells = g->pass->mesh->nx * g->pass->mesh->ny;
    g->parts = part_count(g->pass->survey->count);
    PP_TAKE_ZERO(g->part, &memory->scratch, g->parts);
    for (size_t p = 0; p < g->parts; p++) {
        PP_TAKE_ZERO(g->part[p].cells, &memory->scratch, cells);
        PP_TAKE_ZERO(g->part[p].seen, &memory->scratch, cells);
    }
    return pp_parallel(g->pass->threads, g->parts, gather_part, g, error);
}

static void add_part(pp_survey_moments *total, const pp_survey_moments *part, size_t cells)
{
    double *to = &total->cells[0].m[0][0];
    const double *from = &part->cells[0].m[0][0];
    size_t values = cells * (sizeof(pp_cell_moments) / sizeof(double));
    for (size_t k = 0; k < values; k++) to[k] += from[k];
    total->weight += part->weight;
    total->zz += part->zz;
}

pp_status pp_survey_gather(const pp_survey_pass *pass, pp_memory *memory,
                           pp_survey_moments *moments, pp_error *error)
{
    size_t cells = pass->mesh->nx * pass->mesh->ny;
    pp_survey_moments total = {0};
    PP_TAKE_ZERO(total.cells, &memory->scratch, cells);
    PP_TAKE_ZERO(total.seen, &memory->scratch, cells);
    pp_mark mark = pp_arena_mark(&memory->scratch);
    gathering g = {.pass = pass};
    PP_TRY(run_parts(&g, memory, error));
    for (size_t p = 0; p < g.parts; p++) {
        add_part(&total, &g.part[p], cells);
        total.count += g.part[p].count;
        for (size_t c = 0; c < cells; c++) total.seen[c] |= g.part[p].seen[c];
    }
    total.weight = (double)total.count;
    total.outside = pass->survey->count - total.count;
    pp_arena_release(&memory->scratch, mark);
    *moments = total;
    return PP_OK;
}

pp_status pp_survey_gather_weighted(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                                    double scale, const pp_survey_moments *plain, pp_memory *memory,
                                    pp_survey_moments *weighted, pp_error *error)
{
    size_t cells = pass->mesh->nx * pass->mesh->ny;
    pp_mark mark = pp_arena_mark(&memory->scratch);
    gathering g = {.pass = pass, .surface = surface, .clip = huber_share * scale};
    PP_TRY(run_parts(&g, memory, error));
    pp_survey_moments total = *plain;
    total.cells = weighted->cells;
    memcpy(total.cells, plain->cells, cells * sizeof *total.cells);
    total.weight = total.zz = 0;
    for (size_t p = 0; p < g.parts; p++) add_part(&total, &g.part[p], cells);
    pp_arena_release(&memory->scratch, mark);
    *weighted = total;
    return PP_OK;
}

/* ---- residuals ---- */

typedef struct residual_part {
    double squares, largest;
    uint32_t bins[BINS];
    size_t far, room;
    size_t *index; /* where this part's far points go, as many as there is room for */
} residual_part;

typedef struct residual_run {
    const pp_survey_pass *pass;
    const pp_cell_polynomial *surface;
    double threshold; /* infinite: sums only */
    size_t parts;
    residual_part *part;
} residual_run;

static size_t bin_of(double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    bits >>= BIN_SHIFT;
    if (bits < BIN_FIRST) return 0;
    return bits - BIN_FIRST < BINS ? (size_t)(bits - BIN_FIRST) : BINS - 1;
}

static double bin_value(size_t bin) /* its lower end */
{
    return ldexp(1 + (double)(bin % 32) / 32, (int)(bin / 32) - 40);
}

static pp_status residual_work(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    const residual_run *run = context;
    residual_part *out = &run->part[part];
    size_t count = run->pass->survey->count;
    size_t begin = pp_part_begin(count, run->parts, part);
    size_t end = pp_part_begin(count, run->parts, part + 1);
    double squares = 0, largest = 0;
    size_t far = 0;
    block points;
    for (size_t at = begin; at < end; at += BLOCK) {
        place_block(run->pass, at, at + BLOCK < end ? at + BLOCK : end, &points);
        for (size_t k = 0; k < points.count; k++) {
            if (points.cell[k] == no_cell) continue;
            double e = fabs(points.z[k] -
                            evaluate(&run->surface[points.cell[k]], points.u[k], points.v[k]));
            squares += e * e;
            if (e > largest) largest = e;
            out->bins[bin_of(e)]++;
            if (e > run->threshold) {
                if (far < out->room) out->index[far] = at + k;
                far++;
            }
        }
    }
    out->squares = squares, out->largest = largest, out->far = far;
    return PP_OK;
}

static double histogram_median(const residual_run *run)
{
    uint64_t total = 0, below = 0, bins[BINS] = {0};
    for (size_t b = 0; b < BINS; b++) {
        for (size_t p = 0; p < run->parts; p++) bins[b] += run->part[p].bins[b];
        total += bins[b];
    }
    for (size_t b = 0; b < BINS; b++) {
        if (2 * (below + bins[b]) >= total) {
            if (b == 0) return 0;
            double share = ((double)total / 2 - (double)below) / (double)bins[b];
            return bin_value(b) + share * (bin_value(b + 1) - bin_value(b));
        }
        below += bins[b];
    }
    return 0;
}

pp_status pp_survey_residuals(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                              pp_memory *memory, pp_residual_sums *sums, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    residual_run run = {.pass = pass, .surface = surface, .threshold = INFINITY};
    run.parts = part_count(pass->survey->count);
    PP_TAKE_ZERO(run.part, &memory->scratch, run.parts);
    PP_TRY(pp_parallel(pass->threads, run.parts, residual_work, &run, error));
    pp_residual_sums total = {0};
    for (size_t p = 0; p < run.parts; p++) {
        total.squares += run.part[p].squares;
        total.largest = fmax(total.largest, run.part[p].largest);
    }
    total.median = histogram_median(&run);
    pp_arena_release(&memory->scratch, mark);
    *sums = total;
    return PP_OK;
}

pp_status pp_survey_far_points(const pp_survey_pass *pass, const pp_cell_polynomial *surface,
                               double threshold, pp_memory *memory, size_t *count,
                               const size_t **index, pp_error *error)
{
    pp_mark mark = pp_arena_mark(&memory->scratch);
    residual_run run = {.pass = pass, .surface = surface, .threshold = threshold};
    run.parts = part_count(pass->survey->count);
    PP_TAKE_ZERO(run.part, &memory->scratch, run.parts);
    size_t room = FAR_ROOM, total, most;
    do { /* a second time only when some part has more of them than there was room for */
        total = most = 0;
        for (size_t p = 0; p < run.parts; p++) {
            run.part[p].room = room;
            PP_TAKE(run.part[p].index, &memory->scratch, room);
        }
        PP_TRY(pp_parallel(pass->threads, run.parts, residual_work, &run, error));
        for (size_t p = 0; p < run.parts; p++) {
            total += run.part[p].far;
            if (run.part[p].far > most) most = run.part[p].far;
        }
    } while (most > room && (room = most) > 0);
    size_t *list, at = 0;
    PP_TAKE(list, &memory->keep, total);
    for (size_t p = 0; p < run.parts; p++)
        for (size_t k = 0; k < run.part[p].far; k++) list[at++] = run.part[p].index[k];
    pp_arena_release(&memory->scratch, mark);
    *count = total;
    *index = list;
    return PP_OK;
}

/* ---- from moments to the system, and from its solution to polynomials ---- */

/* The Hermite cubics in u = 2 s - 1: coefficients of 1, u, u^2, u^3. */
static const double cubic[4][4] = {
    {0.5, -0.75, 0, 0.25},
    {0.125, -0.125, -0.125, 0.125},
    {0.5, 0.75, 0, -0.25},
    {-0.125, -0.125, 0.125, 0.125},
};

typedef struct cubic_products {
    double c[4][4][7]; /* coefficients of H_p H_q */
} cubic_products;

static cubic_products multiply_cubics(void)
{
    cubic_products out = {0};
    for (int p = 0; p < 4; p++)
        for (int q = 0; q < 4; q++)
            for (int a = 0; a < 4; a++)
                for (int b = 0; b < 4; b++) out.c[p][q][a + b] += cubic[p][a] * cubic[q][b];
    return out;
}

/* k[l][m] = sum over a, b of (H_p H_q)_a (H_r H_s)_b M[a][b] */
static void cell_normal_matrix(const cubic_products *products, const pp_cell_moments *moments,
                               pp_cell_matrix *k)
{
    double along[4][4][7];
    for (int p = 0; p < 4; p++)
        for (int q = 0; q < 4; q++)
            for (int b = 0; b < 7; b++) {
                double sum = 0;
                for (int a = 0; a < 7; a++) sum += products->c[p][q][a] * moments->m[a][b];
                along[p][q][b] = sum;
            }
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m <= l; m++) {
            const double *row = along[pp_cell_along_s(l)][pp_cell_along_s(m)];
            const double *column = products->c[pp_cell_along_t(l)][pp_cell_along_t(m)];
            double sum = 0;
            for (int b = 0; b < 7; b++) sum += row[b] * column[b];
            k->k[l][m] = k->k[m][l] = sum;
        }
}

void pp_cell_form_of(const pp_cell_matrix *z, pp_cell_form *form)
{
    const cubic_products products = multiply_cubics();
    double along[4][4][7] = {{{0}}}; /* of each pair of cubics in u: powers of v */
    for (size_t l = 0; l < PP_CELL_DOFS; l++)
        for (size_t m = 0; m < PP_CELL_DOFS; m++) {
            double *to = along[pp_cell_along_s(l)][pp_cell_along_s(m)];
            const double *column = products.c[pp_cell_along_t(l)][pp_cell_along_t(m)];
            for (int b = 0; b < 7; b++) to[b] += z->k[l][m] * column[b];
        }
    *form = (pp_cell_form){{{0}}};
    for (int p = 0; p < 4; p++)
        for (int q = 0; q < 4; q++)
            for (int a = 0; a < 7; a++)
                for (int b = 0; b < 7; b++) form->c[a][b] += products.c[p][q][a] * along[p][q][b];
}

static void add_cell_load(const pp_cell_moments *moments, const size_t dof[PP_CELL_DOFS], double *b)
{
    for (size_t l = 0; l < PP_CELL_DOFS; l++) {
        const double *p = cubic[pp_cell_along_s(l)], *q = cubic[pp_cell_along_t(l)];
        double sum = 0;
        for (int i = 0; i < 4; i++)
            for (int j = 0; j < 4; j++) sum += p[i] * q[j] * moments->mz[i][j];
        b[dof[l]] += sum;
    }
}

void pp_survey_normal_equations(const pp_survey_moments *moments, const pp_mesh *mesh, double *band,
                                double *b)
{
    cubic_products products = multiply_cubics();
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            const pp_cell_moments *cell = &moments->cells[j * mesh->nx + i];
            if (cell->m[0][0] == 0) continue;
            pp_cell_matrix k;
            size_t dof[PP_CELL_DOFS];
            cell_normal_matrix(&products, cell, &k);
            pp_cell_add(mesh, i, j, &k, band);
            pp_cell_dofs(mesh, i, j, dof);
            add_cell_load(cell, dof, b);
        }
}

void pp_cell_polynomials(const pp_mesh *mesh, const double *field, pp_cell_polynomial *cells)
{
    for (size_t j = 0; j < mesh->ny; j++)
        for (size_t i = 0; i < mesh->nx; i++) {
            size_t dof[PP_CELL_DOFS];
            pp_cell_dofs(mesh, i, j, dof);
            pp_cell_polynomial out = {0};
            for (size_t l = 0; l < PP_CELL_DOFS; l++) {
                const double *p = cubic[pp_cell_along_s(l)], *q = cubic[pp_cell_along_t(l)];
                for (int a = 0; a < 4; a++)
                    for (int b = 0; b < 4; b++) out.c[a][b] += field[dof[l]] * p[a] * q[b];
            }
            cells[j * mesh->nx + i] = out;
        }
}
