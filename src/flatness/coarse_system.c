#include "flatness/coarse_system.h"

#include <string.h>

#include "elements/cell.h"

enum { DOFS = 4, NEAR_MOST = 4 };

/* Value and slope at a small node from those at a large one, slopes counted per cell of either
 * size: at the same place, and half a cell to its right and to its left (Hermite cubics). */
typedef struct transfer {
    double t[2][2]; /* [value, slope of the small][of the large] */
} transfer;
static const transfer same_place = {{{1, 0}, {0, 0.5}}};
static const transfer from_left = {{{0.5, 0.125}, {-0.75, -0.125}}};
static const transfer from_right = {{{0.5, -0.125}, {0.75, -0.125}}};

/* The large nodes along one axis that small node i hangs on. */
static size_t along_axis(size_t i, size_t node[2], const transfer *of[2])
{
    node[0] = i / 2, node[1] = i / 2 + 1;
    if (i % 2 == 0) {
        of[0] = &same_place;
        return 1;
    }
    of[0] = &from_left, of[1] = &from_right;
    return 2;
}

typedef struct hanging {
    size_t count;
    size_t dof[NEAR_MOST];           /* first of the large node */
    double t[NEAR_MOST][DOFS][DOFS]; /* [small dof][large dof] */
} hanging;

static void hang(const pp_coarse_system *c, size_t i, size_t j, hanging *out)
{
    size_t column[2], row[2];
    const transfer *x[2], *y[2];
    size_t columns = along_axis(i, column, x), rows = along_axis(j, row, y);
    out->count = 0;
    for (size_t p = 0; p < columns; p++)
        for (size_t q = 0; q < rows; q++) {
            size_t at = out->count++;
            size_t node =
                c->x_fastest ? row[q] * (c->nx + 1) + column[p] : column[p] * (c->ny + 1) + row[q];
            out->dof[at] = DOFS * node;
            for (int k = 0; k < DOFS; k++)
                for (int l = 0; l < DOFS; l++)
                    out->t[at][k][l] = x[p]->t[k & 1][l & 1] * y[q]->t[k >> 1][l >> 1];
        }
}

/* The 4 x 4 block of two nodes of a lower band; false where it is nought. */
static bool take_block(const pp_mesh *mesh, const double *band, size_t p, size_t q,
                       double block[DOFS][DOFS])
{
    size_t column = mesh->half_bandwidth + 1;
    bool any = false;
    for (size_t a = 0; a < DOFS; a++)
        for (size_t b = 0; b < DOFS; b++) {
            size_t i = DOFS * p + a, j = DOFS * q + b;
            block[a][b] = i >= j ? band[j * column + i - j] : band[i * column + j - i];
            any = any || block[a][b] != 0;
        }
    return any;
}

/* The lower triangle of X, 4 x 4 at (row, column), or of X' where that lies above the diagonal;
 * `both`: X and X' are meant, of two different small nodes. */
static void add_block(const pp_coarse_system *c, double *band, size_t row, size_t column,
                      double x[DOFS][DOFS], bool both)
{
    size_t stride = c->half_bandwidth + 1;
    for (size_t a = 0; a < DOFS; a++)
        for (size_t b = 0; b < DOFS; b++) {
            size_t i = row + a, j = column + b;
            if (i >= j) band[j * stride + i - j] += x[a][b];
            if (both && j >= i) band[i * stride + j - i] += x[a][b];
        }
}

/* T' B T of the block of two small nodes */
static void add_pair(const pp_coarse_system *c, const hanging *p, const hanging *q,
                     double block[DOFS][DOFS], bool both, double *band)
{
    for (size_t n = 0; n < q->count; n++) {
        double right[DOFS][DOFS] = {{0}};
        for (int a = 0; a < DOFS; a++)
            for (int b = 0; b < DOFS; b++)
                for (int l = 0; l < DOFS; l++) right[a][l] += block[a][b] * q->t[n][b][l];
        for (size_t m = 0; m < p->count; m++) {
            double x[DOFS][DOFS] = {{0}};
            for (int a = 0; a < DOFS; a++)
                for (int k = 0; k < DOFS; k++)
                    for (int l = 0; l < DOFS; l++) x[k][l] += p->t[m][a][k] * right[a][l];
            add_block(c, band, p->dof[m], q->dof[n], x, both);
        }
    }
}

/* to <- T' from T over the nodes that take part */
static void restrict_band(const pp_mesh *mesh, const pp_coarse_system *c, const double *from,
                          double *to)
{
    static const int neighbour[5][2] = {{0, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}};
    memset(to, 0, c->n * (c->half_bandwidth + 1) * sizeof *to);
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            size_t p = pp_mesh_node(mesh, i, j);
            if (!c->active[p]) continue;
            hanging here, there;
            hang(c, i, j, &here);
            for (int k = 0; k < 5; k++) { /* each pair once */
                size_t u = i + (size_t)neighbour[k][0], v = j + (size_t)neighbour[k][1];
                if (u > mesh->nx || v > mesh->ny) continue; /* 0 - 1 wraps */
                size_t q = pp_mesh_node(mesh, u, v);
                double block[DOFS][DOFS];
                if (!c->active[q] || !take_block(mesh, from, q, p, block)) continue;
                hang(c, u, v, &there);
                add_pair(c, &there, &here, block, k > 0, to);
            }
        }
}

/* Large nodes that no active cell touches are as stiff as others on average, as in the fit. */
static void pin(const pp_coarse_system *c, double *stiffness)
{
    size_t column = c->half_bandwidth + 1, count = 0;
    double sum = 0;
    for (size_t d = 0; d < c->n; d++) {
        sum += stiffness[d * column];
        count += stiffness[d * column] > 0;
    }
    for (size_t d = 0; d < c->n; d++)
        if (!(stiffness[d * column] > 0)) stiffness[d * column] = sum / (double)count;
}

pp_status pp_coarse_system_make(const pp_mesh *mesh, const double *stiffness, pp_memory *memory,
                                pp_coarse_system *coarse, pp_error *error)
{
    pp_coarse_system c = {.nx = (mesh->nx + 1) / 2, .ny = (mesh->ny + 1) / 2};
    unsigned char *active;
    c.x_fastest = c.nx <= c.ny;
    c.n = DOFS * (c.nx + 1) * (c.ny + 1);
    c.half_bandwidth = DOFS * ((c.x_fastest ? c.nx : c.ny) + 2) + DOFS - 1;
    PP_TAKE(c.normal, &memory->keep, c.n * (c.half_bandwidth + 1));
    PP_TAKE(c.stiffness, &memory->keep, c.n * (c.half_bandwidth + 1));
    PP_TAKE(c.load, &memory->keep, c.n);
    PP_TAKE(active, &memory->keep, mesh->nodes);
    pp_mesh_active_nodes(mesh, active);
    c.active = active;
    restrict_band(mesh, &c, stiffness, c.stiffness);
    pin(&c, c.stiffness);
    *coarse = c;
    return PP_OK;
}

void pp_coarse_system_load(const pp_mesh *mesh, const double *normal, const double *load,
                           const pp_coarse_system *c)
{
    restrict_band(mesh, c, normal, c->normal);
    memset(c->load, 0, c->n * sizeof *c->load);
    for (size_t j = 0; j <= mesh->ny; j++)
        for (size_t i = 0; i <= mesh->nx; i++) {
            size_t p = pp_mesh_node(mesh, i, j);
            hanging here;
            hang(c, i, j, &here);
            for (size_t m = 0; m < here.count; m++)
                for (int k = 0; k < DOFS; k++)
                    for (int l = 0; l < DOFS; l++)
                        c->load[here.dof[m] + (size_t)l] +=
                            here.t[m][k][l] * load[DOFS * p + (size_t)k];
        }
}
