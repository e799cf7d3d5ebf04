/* bench_bundle TUBES PLATES ROUNDS THREADS: an invented bundle in memory; times the straight
 * passage of every tube as set out, and the whole placement. Prints one line of figures, then a
 * sample of tubes for the peer: "tube margin_radius count s x y r ...". */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

#include "base/parallel.h"
#include "bundle/placing.h"
#include "support/random.h"

enum { PARTS = 64, SAMPLE = 40, ROUNDS_MAX = 9 };

typedef struct bench {
    pp_discs discs;
    pp_play play[PP_PLATES_MAX];
    pp_disc *disc;
    uint8_t *plate;
    size_t *first;
    double *radius;
    bool *take;
} bench;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void make(bench *b, size_t tubes, size_t plates)
{
    test_random random = {20261120};
    const double pitch = 32;
    size_t side = (size_t)ceil(sqrt((double)tubes)), n = 0;
    pp_move set_out[PP_PLATES_MAX];
    pp_plate_moved stand[PP_PLATES_MAX];
    b->disc = malloc(2 * tubes * plates * sizeof *b->disc);
    b->plate = malloc(2 * tubes * plates);
    b->first = malloc((tubes + 1) * sizeof *b->first);
    b->radius = malloc(tubes * sizeof *b->radius);
    b->take = malloc(tubes * sizeof *b->take);
    if (!b->disc || !b->plate || !b->first || !b->radius || !b->take) exit(3);
    for (size_t p = 0; p < plates; p++) {
        bool end = p == 0 || p == plates - 1;
        double rim = 0.75 * pitch * (double)side;
        b->play[p] = (pp_play){0, 0, end ? 0 : 1.6, end ? 0 : 0.0035, rim};
        set_out[p] = end ? (pp_move){0}
                         : (pp_move){0.3 * random_normal(&random), 0.3 * random_normal(&random),
                                     2e-4 * random_normal(&random)};
    }
    pp_plate_moved_of(b->play, set_out, plates, stand);
    for (size_t k = 0; k < tubes; k++) {
        double x = ((double)(k % side) - (double)side / 2) * pitch;
        double y = ((double)(k / side) - (double)side / 2) * pitch;
        b->first[k] = n;
        b->take[k] = true;
        for (size_t p = 0; p < plates; p++) {
            pp_disc d = {350 * (double)p, x + 0.03 * random_normal(&random),
                         y + 0.03 * random_normal(&random), 12.9 + 0.01 * random_normal(&random)};
            d = pp_disc_moved(d, &stand[p]);
            for (int e = 0; e < 2; e++, n++) {
                b->plate[n] = (uint8_t)p;
                b->disc[n] = (pp_disc){d.s + 12 * e, d.x + 0.005 * random_normal(&random),
                                       d.y + 0.005 * random_normal(&random), d.r};
            }
        }
    }
    b->first[tubes] = n;
    b->discs = (pp_discs){tubes, b->first, b->disc, b->plate};
}

static pp_status pass_part(void *context, size_t part, int worker, pp_error *error)
{
    (void)worker, (void)error;
    bench *b = context;
    size_t tubes = b->discs.tubes, end = pp_part_begin(tubes, PARTS, part + 1);
    for (size_t k = pp_part_begin(tubes, PARTS, part); k < end; k++) {
        pp_passage line;
        pp_passage_find(b->disc + b->first[k], b->first[k + 1] - b->first[k], &line, NULL);
        b->radius[k] = line.radius;
    }
    return PP_OK;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static void print_sample(const bench *b)
{
    size_t step = b->discs.tubes / SAMPLE ? b->discs.tubes / SAMPLE : 1;
    for (size_t k = 0; k < b->discs.tubes; k += step) {
        printf("%zu %.15g %zu", k, b->radius[k], b->first[k + 1] - b->first[k]);
        for (size_t i = b->first[k]; i < b->first[k + 1]; i++)
            printf(" %.15g %.15g %.15g %.15g", b->disc[i].s, b->disc[i].x, b->disc[i].y,
                   b->disc[i].r);
        printf("\n");
    }
}

int main(int argc, char **argv)
{
    if (argc < 5) return 2;
    size_t tubes = strtoul(argv[1], NULL, 10), plates = strtoul(argv[2], NULL, 10);
    int rounds = atoi(argv[3]), threads = atoi(argv[4]);
    double straight[ROUNDS_MAX], placed[ROUNDS_MAX], gap = 0;
    bench b;
    if (rounds < 1 || rounds > ROUNDS_MAX || plates < 3 || plates > PP_PLATES_MAX) return 2;
    make(&b, tubes, plates);
    for (int r = 0; r < rounds; r++) {
        pp_memory memory = {0};
        pp_error error = {0};
        pp_placed answer;
        pp_placing_request request = {.discs = &b.discs,
                                      .play = b.play,
                                      .plates = plates,
                                      .take = b.take,
                                      .radius = b.radius,
                                      .wanted = 12.5,
                                      .threads = threads};
        double t0 = now();
        if (pp_parallel(threads, PARTS, pass_part, &b, &error) != PP_OK) return 1;
        double t1 = now();
        if (pp_placing_find(&request, &memory, &answer, &error) != PP_OK) {
            fprintf(stderr, "%s\n", error.message);
            return 1;
        }
        straight[r] = t1 - t0;
        placed[r] = now() - t1;
        gap = answer.bound - answer.radius;
        pp_memory_free(&memory);
    }
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    qsort(straight, (size_t)rounds, sizeof *straight, by_value);
    qsort(placed, (size_t)rounds, sizeof *placed, by_value);
    printf("%.4f %.4f %.3g %ld\n", straight[rounds / 2], placed[rounds / 2], gap,
           usage.ru_maxrss / 1024);
    print_sample(&b);
    free(b.disc), free(b.plate), free(b.first), free(b.radius), free(b.take);
    return 0;
}
