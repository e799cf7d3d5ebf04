/* The contact kernels on random plates: every state is checked against the equations it solves,
 * written out afresh here, never against the solver's own intermediate results. */
#include "support/check.h"
#include "support/random.h"

#include "holddown/contact.h"

enum { M = 47, FEATURES = 90, SUPPORTS = 7 };

typedef struct plate {
    pp_arena arena;
    double x[M + 1], y[M + 1];      /* the last one is the foot */
    double gram[(M + 1) * (M + 1)]; /* compliance between all of them */
    double g[M * M], r[M * 3], r_foot[3];
    double gap[M], load[3], reaction[M], open[M]; /* state without foot, and its truth */
    bool touching[M];
    pp_contact_points points;
    pp_contact_base base;
    pp_contact_work work;
    double d[M], motion[3], e;
} plate;

/* Compliance like a plate's: smooth features of the place, decaying, plus a local dent */
static void make_gram(plate *p, test_random *r)
{
    static double feature[(M + 1) * FEATURES];
    for (int f = 0; f < FEATURES; f++) {
        double kx = 9 * random_unit(r) - 4.5, ky = 9 * random_unit(r) - 4.5,
               phase = 6.3 * random_unit(r);
        double size = 0.02 / (1 + kx * kx + ky * ky);
        for (int i = 0; i <= M; i++)
            feature[f * (M + 1) + i] = size * cos(kx * p->x[i] + ky * p->y[i] + phase);
    }
    for (int i = 0; i <= M; i++)
        for (int j = 0; j <= M; j++) {
            double sum = i == j ? 2e-6 : 0;
            for (int f = 0; f < FEATURES; f++)
                sum += feature[f * (M + 1) + i] * feature[f * (M + 1) + j];
            p->gram[j * (M + 1) + i] = sum;
        }
}

static void make_base(plate *p, double eps)
{
    pp_error error = {0};
    size_t active = 0;
    for (int i = 0; i < M; i++) active += p->touching[i];
    pp_mark mark = pp_arena_mark(&p->arena);
    double *work = pp_arena_take(&p->arena, pp_contact_base_work(M, active, 3), sizeof *work);
    int pivots[M + 3];
    const pp_contact_start start = {p->touching, p->gap, p->load, eps};
    assert_ok(pp_contact_base_make(&p->points, &start, work, pivots, &p->base, &error), &error);
    p->base.tiny_force = 1e-9;
    p->base.tiny_gap = 1e-12;
    double column[M];
    for (int i = 0; i < M; i++) column[i] = p->gram[M * (M + 1) + i];
    pp_contact_columns(&p->base, 1, column, p->r_foot, p->d, p->motion, work);
    p->e = pp_contact_flexibility(&p->base, p->gram[(M + 1) * (M + 1) - 1], column, p->r_foot, p->d,
                                  p->motion);
    pp_arena_release(&p->arena, mark);
}

static plate *make_plate(uint64_t seed, double eps)
{
    test_random r = {seed};
    static plate made;
    plate *p = &made;
    *p = (plate){0};
    for (int i = 0; i <= M; i++) {
        p->x[i] = 2 * random_unit(&r) - 1;
        p->y[i] = 1.3 * random_unit(&r) - 0.65;
    }
    p->x[M] *= 0.6; /* the foot comes down inside */
    p->y[M] *= 0.6;
    make_gram(p, &r);
    for (int i = 0; i <= M; i++) {
        double row[3] = {1, p->x[i], p->y[i]};
        for (int k = 0; k < 3; k++) {
            if (i < M)
                p->r[k * M + i] = row[k];
            else
                p->r_foot[k] = row[k];
        }
    }
    for (int j = 0; j < M; j++)
        for (int i = 0; i < M; i++) p->g[j * M + i] = p->gram[j * (M + 1) + i];
    for (int i = 0; i < M; i++) {
        p->touching[i] = i < SUPPORTS;
        p->reaction[i] = i < SUPPORTS ? 900 + 4100 * random_unit(&r) : 0;
        p->open[i] = i < SUPPORTS ? 0 : 0.003 + 0.9 * random_unit(&r);
    }
    for (int i = 0; i < M; i++) {
        p->gap[i] = p->open[i];
        for (int j = 0; j < M; j++) p->gap[i] -= p->g[j * M + i] * p->reaction[j];
        for (int k = 0; k < 3; k++) p->load[k] += p->r[k * M + i] * p->reaction[i];
    }
    p->points = (pp_contact_points){.count = M, .rigid = 3, .g = p->g, .r = p->r};
    pp_error error = {0};
    assert_ok(pp_contact_base_take(M, 3, &p->arena, &p->base, &error), &error);
    assert_ok(pp_contact_work_take(M, &p->arena, &p->work, &error), &error);
    make_base(p, eps);
    return p;
}

/* y = gap + G r - F g_f + R a and R' r = load + F r_f hold, nothing pulls beyond eps per mm of
 * lift, nothing penetrates, no support both carries and is clear. Returns the gap at the foot. */
static double check_state(const plate *p, double force, bool held)
{
    double r[M], y[M], a[3], largest_force = 0, at_foot = -force * p->gram[(M + 1) * (M + 1) - 1];
    pp_contact_state(&p->base, &p->work, force, p->motion, r, y, a);
    for (int i = 0; i < M; i++) largest_force = fmax(largest_force, fabs(r[i]));
    for (int i = 0; i < M; i++) {
        double want = p->gap[i] - force * p->gram[M * (M + 1) + i];
        for (int j = 0; j < M; j++) want += p->g[j * M + i] * r[j];
        for (int k = 0; k < 3; k++) want += p->r[k * M + i] * a[k];
        assert_near(y[i], want, 1e-8);
        assert_true(y[i] >= -1e-11);
        if (!(held && p->touching[i])) assert_true(r[i] >= -p->base.eps * y[i] - 1e-8);
        assert_near(r[i] * y[i], 0, p->base.eps * y[i] * y[i] + 1e-9);
        at_foot += p->gram[M * (M + 1) + i] * r[i];
    }
    for (int k = 0; k < 3; k++) {
        double sum = -p->load[k] - force * p->r_foot[k];
        for (int i = 0; i < M; i++) sum += p->r[k * M + i] * r[i];
        assert_near(sum, 0, 1e-10 * largest_force);
        at_foot += p->r_foot[k] * a[k];
    }
    return at_foot;
}

static void a_column_is_the_same_entry_by_entry(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed < 9; seed++) {
        plate *p = make_plate(seed, seed == 5 ? 30 : 1e-4); /* also one where eps shows */
        const double *column = &p->gram[M * (M + 1)];
        double g_a[M];
        for (size_t j = 0; j < p->base.active; j++) g_a[j] = column[p->base.order[j]];
        for (size_t j = 0; j < M; j++) {
            double entry =
                pp_contact_column_at(&p->base, j, g_a, column[p->base.order[j]], p->r_foot);
            assert_near(entry, p->d[j], 1e-9 * (1 + fabs(p->d[j])));
        }
        pp_arena_free(&p->arena);
    }
}

static void the_base_reproduces_the_state_without_foot(void **state)
{
    (void)state;
    plate *p = make_plate(20241, 1e-4);
    for (int j = 0; j < M; j++) {
        size_t i = p->base.order[j];
        if (j < SUPPORTS)
            assert_near(p->base.v[j], p->reaction[i], 1e-7);
        else
            assert_near(p->base.v[j], p->open[i], 1e-10);
    }
    for (int k = 0; k < 3; k++) assert_near(p->base.motion[k], 0, 1e-10);
    pp_arena_free(&p->arena);
}

static void contact_conditions_hold_on_random_plates(void **state)
{
    (void)state;
    pp_error error = {0};
    for (uint64_t seed = 1; seed <= 60; seed++) {
        plate *p = make_plate(seed * 7919, 1e-3);
        assert_ok(pp_contact_solve(&p->base, p->d, 0, false, &p->work, &error), &error);
        double start = check_state(p, 0, false), before = start;
        for (double force = 137; force < 3e5; force *= 2.31) {
            for (int held = 0; held < 2; held++) {
                assert_ok(pp_contact_solve(&p->base, p->d, force, held, &p->work, &error), &error);
                double foot = check_state(p, force, held);
                double probe = start + force * p->e + pp_contact_probe(&p->base, &p->work, p->d);
                assert_near(probe, foot, 1e-8);
                const pp_contact_probed probed = {p->d, start, p->e};
                pp_contact_straight line;
                assert_ok(pp_contact_line(&p->base, p->d, &probed, &p->work, &line, &error),
                          &error);
                assert_near(line.at_zero + line.slope * force, foot, 1e-8);
                assert_true(line.slope <= 1e-12);
                if (!held) { /* the gap under the foot never grows with the force */
                    assert_true(foot <= before + 1e-9);
                    before = foot;
                }
            }
        }
        pp_arena_free(&p->arena);
    }
}

static void the_exact_path_ends_where_the_active_set_does(void **state)
{
    (void)state;
    pp_error error = {0};
    size_t all_events = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        plate *p = make_plate(seed * 104729, 1e-3);
        for (double force = 2385; force < 2e5; force *= 4.1) {
            double r[2][M], y[2][M];
            size_t events;
            pp_contact_work_begin(&p->work);
            assert_ok(pp_contact_solve(&p->base, p->d, force, false, &p->work, &error), &error);
            pp_contact_state(&p->base, &p->work, force, p->motion, r[0], y[0], NULL);
            assert_ok(pp_contact_path(&p->base, p->d, 0, force, false, &p->work, &events, &error),
                      &error);
            pp_contact_state(&p->base, &p->work, force, p->motion, r[1], y[1], NULL);
            for (int i = 0; i < M; i++) {
                assert_near(r[1][i], r[0][i], 1e-7 * force);
                assert_near(y[1][i], y[0][i], 1e-10);
            }
            all_events += events;
        }
        pp_arena_free(&p->arena);
    }
    assert_true(all_events > 500); /* plenty of changes were followed */
}

/* Far more points would touch at once than do in the end. */
static void a_plate_begun_on_the_wrong_points_settles(void **state)
{
    (void)state;
    pp_error error = {0};
    size_t changes = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        plate *p = make_plate(seed * 15485863, 1e-3);
        for (int i = 0; i < M; i++) p->touching[i] = i % 13 == 12;
        make_base(p, 1e-3);
        assert_ok(pp_contact_settle(&p->base, &p->work, &error), &error);
        check_state(p, 0, false);
        changes += p->work.changed_count;
        pp_arena_free(&p->arena);
    }
    assert_true(changes > 500);
}

static void pivots_end_from_any_start(void **state)
{
    (void)state;
    pp_error error = {0};
    for (uint64_t seed = 1; seed <= 40; seed++) {
        plate *p = make_plate(seed * 15485863, 1e-3);
        test_random draw = {seed};
        for (double force = 911; force < 2e5; force *= 5.3) {
            for (int j = 0; j < M; j++) p->work.changed[j] = random_unit(&draw) < 0.5;
            assert_ok(pp_contact_pivot(&p->base, p->d, force, &p->work, &error), &error);
            check_state(p, force, false);
        }
        pp_arena_free(&p->arena);
    }
}

static void a_state_can_become_the_next_base(void **state)
{
    (void)state;
    pp_error error = {0};
    plate *p = make_plate(31337, 0);
    const double force = 5400;
    double r[M], y[M];
    assert_ok(pp_contact_solve(&p->base, p->d, force, false, &p->work, &error), &error);
    pp_contact_state(&p->base, &p->work, force, p->motion, r, y, NULL);
    int changed = 0;
    for (int i = 0; i < M; i++) { /* the foot stays: it becomes part of the load */
        changed += p->touching[i] != (r[i] > 0);
        p->touching[i] = r[i] > 0;
        p->gap[i] -= force * p->gram[M * (M + 1) + i];
    }
    assert_true(changed > 0);
    for (int k = 0; k < 3; k++) p->load[k] += force * p->r_foot[k];
    make_base(p, 0);
    pp_contact_work_begin(&p->work);
    for (int j = 0; j < M; j++) {
        size_t i = p->base.order[j];
        assert_near(p->base.v[j], (size_t)j < p->base.active ? r[i] : y[i], 1e-7);
    }
    pp_arena_free(&p->arena);
}

/* As of the same plate under other forces, or of another shape. */
static void a_base_moved_to_another_state_is_the_one_made_anew(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        plate *p = make_plate(seed, 1e-3);
        pp_contact_base moved;
        pp_error error = {0};
        double gap[M], load[3], work[M], own[M * M];
        bool touching[M];
        for (int i = 0; i < M; i++) p->touching[i] = i % 6 == 1; /* places are not points */
        make_base(p, 1e-3);
        memcpy(own, p->g, sizeof own);
        memcpy(touching, p->touching, sizeof touching);
        for (int i = 0; i < M; i++) gap[i] = p->gap[i] * (1 + 0.1 * (i % 3)) + 0.01 * (i % 5);
        for (int k = 0; k < 3; k++) load[k] = 1.2 * p->load[k] + k;
        const pp_contact_start start = {touching, gap, load, 1e-3},
                               other = {touching, gap, load, 2e-3};
        const pp_contact_points points = {.count = M, .rigid = 3, .g = own, .r = p->r};
        assert_true(pp_contact_base_serves(&p->base, &p->points, &start));
        assert_false(pp_contact_base_serves(&p->base, &p->points, &other));
        assert_false(pp_contact_base_serves(&p->base, &points, &start)); /* another plate's */
        touching[2] = true;
        assert_false(pp_contact_base_serves(&p->base, &p->points, &start));
        touching[1] = touching[2] = false;
        assert_false(pp_contact_base_serves(&p->base, &p->points, &start));
        touching[1] = true;
        assert_ok(pp_contact_base_take(M, 3, &p->arena, &moved, &error), &error);
        pp_contact_base_move(&p->base, &start, work, &moved);
        pp_contact_base_move(&p->base, &start, work, &p->base);
        assert_memory_equal(p->base.v, moved.v, sizeof gap);
        memcpy(p->gap, gap, sizeof gap);
        memcpy(p->load, load, sizeof load);
        make_base(p, 1e-3);
        assert_true(moved.active == p->base.active && moved.eps == p->base.eps);
        assert_memory_equal(p->base.v, moved.v, sizeof gap);
        assert_memory_equal(p->base.p, moved.p, sizeof own);
        assert_memory_equal(p->base.zv, moved.zv, 3 * sizeof gap);
        assert_memory_equal(p->base.q, moved.q, 9 * sizeof *moved.q);
        assert_memory_equal(p->base.motion, moved.motion, 3 * sizeof *moved.motion);
        assert_memory_equal(p->base.order, moved.order, M * sizeof *moved.order);
        pp_arena_free(&p->arena);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_column_is_the_same_entry_by_entry),
        cmocka_unit_test(the_base_reproduces_the_state_without_foot),
        cmocka_unit_test(contact_conditions_hold_on_random_plates),
        cmocka_unit_test(the_exact_path_ends_where_the_active_set_does),
        cmocka_unit_test(a_plate_begun_on_the_wrong_points_settles),
        cmocka_unit_test(pivots_end_from_any_start),
        cmocka_unit_test(a_state_can_become_the_next_base),
        cmocka_unit_test(a_base_moved_to_another_state_is_the_one_made_anew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
