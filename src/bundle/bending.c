#include "bundle/bending.h"

#include <math.h>
#include <string.h>

#include "base/constants.h"
#include "bundle/cone_program.h"

enum { NODE = 4 }; /* unknowns of an edge: wx, wx', wy, wy' (slopes times the length) */
static const double LEAST_PLAY = 1e-6; /* mm: a hole as large as the tube */
static const double FORCE_SEEN = 0.01; /* N: a smaller contact is none */

/* Lengths along the tube over the span, so that EI = 1; deflections stay in mm. */
typedef struct beam_problem {
    size_t count;
    double h[PP_EDGES_MAX];                  /* between edge i and i + 1 */
    double x[PP_EDGES_MAX], y[PP_EDGES_MAX]; /* centres, about a line through them */
    double play[PP_EDGES_MAX];
    double diagonal[PP_EDGES_MAX][NODE][NODE]; /* factor: lower triangles */
    double below[PP_EDGES_MAX][NODE][NODE];    /* factor: edge i + 1 (rows) to edge i (columns) */
} beam_problem;

/* ---- A x + b: deflection less centre, within the play ---- */

static void beam_move(const void *context, const double *d, pp_cone *out)
{
    const beam_problem *p = context;
    for (size_t i = 0; i < p->count; i++) out[i] = (pp_cone){0, d[NODE * i], d[NODE * i + 2]};
}

static void beam_slacks(const void *context, const double *x, pp_cone *out)
{
    const beam_problem *p = context;
    for (size_t i = 0; i < p->count; i++)
        out[i] = (pp_cone){p->play[i], x[NODE * i] - p->x[i], x[NODE * i + 2] - p->y[i]};
}

static void beam_gather(const void *context, const pp_cone *z, double *out)
{
    const beam_problem *p = context;
    memset(out, 0, NODE * p->count * sizeof *out);
    for (size_t i = 0; i < p->count; i++) {
        out[NODE * i] = z[i].x;
        out[NODE * i + 2] = z[i].y;
    }
}

/* ---- stiffness ---- */

/* Of an element of length h: nodes (w, w') left, (w, w') right. */
static void element(double h, double k[4][4])
{
    double a = 12 / (h * h * h), b = 6 / (h * h), c = 4 / h, d = 2 / h;
    const double full[4][4] = {{a, b, -a, b}, {b, c, -b, d}, {-a, -b, a, -b}, {b, d, -b, c}};
    memcpy(k, full, sizeof full);
}

static void beam_curve(const void *context, const double *x, double *out)
{
    const beam_problem *p = context;
    memset(out, 0, NODE * p->count * sizeof *out);
    for (size_t i = 0; i + 1 < p->count; i++) {
        double k[4][4];
        element(p->h[i], k);
        for (size_t axis = 0; axis < NODE; axis += 2) {
            const size_t at[4] = {NODE * i + axis, NODE * i + axis + 1, NODE * (i + 1) + axis,
                                  NODE * (i + 1) + axis + 1};
            for (int r = 0; r < 4; r++)
                for (int c = 0; c < 4; c++) out[at[r]] += k[r][c] * x[at[c]];
        }
    }
}

static void assemble(beam_problem *p, const pp_cone_weight *weight)
{
    memset(p->diagonal, 0, p->count * sizeof *p->diagonal);
    memset(p->below, 0, p->count * sizeof *p->below);
    for (size_t i = 0; i < p->count; i++) {
        p->diagonal[i][0][0] = weight[i].xx;
        p->diagonal[i][2][0] = p->diagonal[i][0][2] = weight[i].xy;
        p->diagonal[i][2][2] = weight[i].yy;
    }
    for (size_t i = 0; i + 1 < p->count; i++) {
        double k[4][4];
        element(p->h[i], k);
        for (int axis = 0; axis < NODE; axis += 2)
            for (int r = 0; r < 2; r++)
                for (int c = 0; c < 2; c++) {
                    p->diagonal[i][axis + r][axis + c] += k[r][c];
                    p->diagonal[i + 1][axis + r][axis + c] += k[r + 2][c + 2];
                    p->below[i][axis + r][axis + c] = k[r + 2][c];
                }
    }
}

static bool factor_node(double d[NODE][NODE])
{
    for (int i = 0; i < NODE; i++)
        for (int j = 0; j <= i; j++) {
            double sum = d[i][j];
            for (int k = 0; k < j; k++) sum -= d[i][k] * d[j][k];
            if (i == j && !(sum > 0)) return false;
            d[i][j] = i == j ? sqrt(sum) : sum / d[j][j];
        }
    return true;
}

/* Block Cholesky: L_i L_i' = D_i - M_i-1 M_i-1',  M_i = B_i L_i'^-1 */
static bool beam_factor(void *context, const pp_cone_weight *weight)
{
    beam_problem *p = context;
    assemble(p, weight);
    for (size_t i = 0; i < p->count; i++) {
        double(*d)[NODE] = p->diagonal[i];
        for (int r = 0; i > 0 && r < NODE; r++)
            for (int c = 0; c <= r; c++)
                for (int k = 0; k < NODE; k++)
                    d[r][c] -= p->below[i - 1][r][k] * p->below[i - 1][c][k];
        if (!factor_node(d)) return false;
        for (int r = 0; i + 1 < p->count && r < NODE; r++)
            for (int c = 0; c < NODE; c++) {
                double *row = p->below[i][r];
                for (int k = 0; k < c; k++) row[c] -= row[k] * d[c][k];
                row[c] /= d[c][c];
            }
    }
    return true;
}

static void beam_solve(const void *context, double *b)
{
    const beam_problem *p = context;
    for (size_t i = 0; i < p->count; i++) {
        double *y = b + NODE * i;
        for (int r = 0; r < NODE; r++) {
            for (int k = 0; i > 0 && k < NODE; k++) y[r] -= p->below[i - 1][r][k] * y[k - NODE];
            for (int k = 0; k < r; k++) y[r] -= p->diagonal[i][r][k] * y[k];
            y[r] /= p->diagonal[i][r][r];
        }
    }
    for (size_t i = p->count; i-- > 0;) {
        double *y = b + NODE * i;
        for (int r = NODE - 1; r >= 0; r--) {
            for (int k = 0; i + 1 < p->count && k < NODE; k++)
                y[r] -= p->below[i][k][r] * y[k + NODE];
            for (int k = r + 1; k < NODE; k++) y[r] -= p->diagonal[i][k][r] * y[k];
            y[r] /= p->diagonal[i][r][r];
        }
    }
}

/* ---- one state ---- */

/* Centres about the chord from the first to the last: the deflections are small numbers. */
static double scale(const pp_disc *discs, size_t count, double radius, beam_problem *p)
{
    const pp_disc *first = &discs[0], *last = &discs[count - 1];
    double length = last->s - first->s;
    p->count = count;
    for (size_t i = 0; i < count; i++) {
        double share = (discs[i].s - first->s) / length;
        p->x[i] = discs[i].x - first->x - share * (last->x - first->x);
        p->y[i] = discs[i].y - first->y - share * (last->y - first->y);
        p->play[i] = fmax(discs[i].r - radius, LEAST_PLAY);
        if (i + 1 < count) p->h[i] = (discs[i + 1].s - discs[i].s) / length;
    }
    return length;
}

/* Through the centres, slopes from the neighbours; every multiplier a plain push outwards. */
static void start(const beam_problem *p, double *x, pp_cone *z)
{
    for (size_t i = 0; i < p->count; i++) {
        size_t a = i > 0 ? i - 1 : i, b = i + 1 < p->count ? i + 1 : i;
        double run = (i > 0 ? p->h[a] : 0) + (i + 1 < p->count ? p->h[i] : 0);
        double *node = x + NODE * i;
        node[0] = p->x[i];
        node[1] = (p->x[b] - p->x[a]) / run;
        node[2] = p->y[i];
        node[3] = (p->y[b] - p->y[a]) / run;
        z[i] = (pp_cone){1, 0, 0};
    }
}

/* From multipliers to forces, moments and what follows; `unit` is EI / length^3. */
static void read_state(const beam_problem *p, const pp_tube_beam *beam, double length,
                       const double *x, const pp_cone *z, pp_bent *bent, pp_edge_force *edge)
{
    double unit = beam->stiffness / (length * length * length), curved[NODE * PP_EDGES_MAX];
    double fx = 0, fy = 0, mx = 0, my = 0, largest = 0; /* shear and moment so far */
    beam_curve(p, x, curved);
    for (size_t i = 0; i < p->count; i++) {
        if (i > 0) mx += fx * p->h[i - 1] * length, my += fy * p->h[i - 1] * length;
        double gx = unit * z[i].x, gy = unit * z[i].y, force = hypot(gx, gy);
        double moment = hypot(mx, my);
        fx += gx, fy += gy;
        bent->forces += force;
        bent->contact = fmax(bent->contact, force);
        largest = fmax(largest, moment);
        bent->energy +=
            unit *
            (x[NODE * i] * curved[NODE * i] + x[NODE * i + 1] * curved[NODE * i + 1] +
             x[NODE * i + 2] * curved[NODE * i + 2] + x[NODE * i + 3] * curved[NODE * i + 3]) /
            2;
        if (edge)
            edge[i] =
                (pp_edge_force){gx, gy, moment, x[NODE * i], x[NODE * i + 2], force > FORCE_SEEN};
    }
    bent->stress = largest / beam->section;
}

static void solve(const pp_disc *discs, size_t count, const pp_tube_beam *beam, pp_bent *bent,
                  pp_edge_force *edge)
{
    static const double no_cost[NODE * PP_EDGES_MAX];
    beam_problem p;
    double x[NODE * PP_EDGES_MAX], right[NODE * PP_EDGES_MAX], residual[NODE * PP_EDGES_MAX];
    pp_cone z[PP_EDGES_MAX], buffer[PP_EDGES_MAX];
    pp_cone_work work[PP_EDGES_MAX];
    pp_cone_weight weight[PP_EDGES_MAX];
    pp_cone_room room = {work, weight, buffer, right, residual};
    pp_cone_end end;
    double length = scale(discs, count, beam->largest_radius, &p);
    start(&p, x, z);
    pp_cone_program program = {NODE * count, count,       no_cost,    beam_slacks,
                               beam_move,    beam_gather, beam_curve, beam_factor,
                               beam_solve,   &p,          1e-9,       1e-6};
    bool ended = pp_cone_program_solve(&program, &room, x, z, &end);
    read_state(&p, beam, length, x, z, bent, edge);
    double unit = beam->stiffness / (length * length * length);
    bent->solved = ended || end.gap * unit <= 1e-4 * (bent->energy + 1e-3);
    for (size_t i = 0; edge && i < count; i++) { /* back from the chord */
        edge[i].wx += discs[i].x - p.x[i];
        edge[i].wy += discs[i].y - p.y[i];
    }
}

pp_tube_beam pp_tube_beam_of(double diameter, double wall, double modulus, double largest_diameter)
{
    double bore = diameter - 2 * wall;
    double inertia = PP_PI / 64 * (pow(diameter, 4) - pow(bore, 4));
    return (pp_tube_beam){.stiffness = modulus * inertia,
                          .section = inertia / (diameter / 2),
                          .largest_radius = largest_diameter / 2};
}

void pp_bending_find(const pp_disc *discs, size_t count, const pp_tube_beam *beam, pp_bent *bent,
                     pp_edge_force *edge)
{
    *bent = (pp_bent){0};
    solve(discs, count, beam, bent, edge);
}

void pp_bending_going_in(const pp_disc *discs, size_t count, const pp_tube_beam *beam,
                         pp_bent *worst)
{
    *worst = (pp_bent){.solved = true};
    for (size_t n = 3; n <= count; n++) {
        pp_bent stage;
        pp_bending_find(discs, n, beam, &stage, NULL);
        worst->solved = worst->solved && stage.solved;
        worst->stress = fmax(worst->stress, stage.stress);
        worst->forces = fmax(worst->forces, stage.forces);
        worst->contact = fmax(worst->contact, stage.contact);
        worst->energy = fmax(worst->energy, stage.energy);
    }
}
