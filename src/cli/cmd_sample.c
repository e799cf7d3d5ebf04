/* plateproof sample: a random list of holes to measure. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/text.h"
#include "cli/commands.h"
#include "cli/new_file.h"
#include "cli/options.h"
#include "cli/say.h"
#include "holes/pitch.h"
#include "rules/assurance.h"
#include "run/run.h"

static const pp_command_help help = {
    "plateproof sample JOB [--count N] [--seed S] [--more]",
    "Draws tube holes of the job's nominal list at random, each as likely as any other, and "
    "writes\n"
    "them as a list to measure (CSV: hole, x_mm, y_mm, row, column), to standard output or to a "
    "new\n"
    "file. A sample speaks for the whole plate only if it was drawn, not picked.\n"
    "\n"
    "  --count N   holes to draw; without it the fewest that prove the share of holes within the\n"
    "              standard limit when none of them is outside (remainder_share, confidence)\n"
    "  --seed S    a whole number (1): the same seed draws the same holes\n"
    "  --more      only holes without a reading yet; without --count as many as are still lacking\n"
    "\n"
    "Example:\n"
    "  plateproof sample plate.ini --seed 20261120 -o to-measure.csv\n",
    .output = "FILE",
    .json = true,
};

typedef struct sample_request {
    const char *count, *seed, *more;
} sample_request;

typedef struct drawing {
    pp_memory memory;
    pp_job job;
    pp_nominal nominal;
    bool *skip; /* NULL, or the holes measured already */
    size_t population, wanted;
    uint64_t seed;
    size_t drawn;
    uint32_t *holes;
    const uint32_t *rows, *columns;
} drawing;

static pp_status read_whole(const char *option, const char *text, uint64_t most, uint64_t *value,
                            pp_error *error)
{
    char *end = NULL;
    unsigned long long number = strtoull(text, &end, 10);
    bool digits = *text && strspn(text, "0123456789") == strlen(text);
    if (!digits || number > most || strlen(text) > 19)
        return pp_fail(error, PP_EINPUT, "--%s %s is not a whole number from 0 to %llu", option,
                       text, (unsigned long long)most);
    *value = number;
    return PP_OK;
}

static size_t tube_holes(const drawing *d)
{
    size_t count = 0;
    for (size_t h = 0; h < d->nominal.count; h++)
        count += d->nominal.kind[h] == PP_TUBE_HOLE && !(d->skip && d->skip[h]);
    return count;
}

/* The fewest holes that prove the share when none is outside. */
static pp_status plan_first(drawing *d)
{
    double allowed = floor(d->job.rules.remainder_share * (double)d->population + 1e-9);
    pp_sample_more(d->population, 0, 0, allowed > 0 ? (size_t)allowed : 0, d->job.holes.confidence,
                   &d->wanted);
    return PP_OK;
}

/* What is measured already, and how many more are lacking. */
static pp_status plan_more(drawing *d, int threads, bool counted, pp_error *error)
{
    pp_run_options options = {.scope = PP_SCOPE_HOLES, .threads = threads};
    pp_results results;
    PP_TRY(pp_run(&d->job, &options, &d->memory, &results, error));
    const pp_measures *m = results.measures;
    PP_TAKE_ZERO(d->skip, &d->memory.keep, d->nominal.count);
    for (size_t h = 0; h < d->nominal.count; h++)
        d->skip[h] = m->bore_of[PP_ENTRY][h] != PP_NONE || m->bore_of[PP_EXIT][h] != PP_NONE;
    if (counted) return PP_OK;
    const pp_assurance *a = &results.judgement->diameter_fold.assurance;
    if (!a->sample_valid)
        return pp_fail_at(error, PP_EINPUT, d->job.path,
                          pp_job_key_line(&d->job, "holes", "coverage"), 0,
                          "how many more are lacking is known only for coverage = sample with "
                          "diameters judged; give --count");
    if (!a->more_possible)
        return pp_fail_at(error, PP_ENOTHING, d->job.path, 0, 0,
                          "%zu of the holes measured are outside, more than the share allows for "
                          "the whole plate; no further measuring proves it",
                          a->outside);
    d->wanted = a->more_needed;
    if (d->wanted == 0)
        return pp_fail_at(error, PP_ENOTHING, d->job.path, 0, 0,
                          "the share is proven already; give --count to measure more all the same");
    return PP_OK;
}

static pp_status draw(drawing *d, const sample_request *q, const char *path, int threads,
                      pp_error *error)
{
    uint64_t count = 0;
    d->seed = 1;
    if (q->seed) PP_TRY(read_whole("seed", q->seed, INT64_MAX, &d->seed, error));
    if (q->count) PP_TRY(read_whole("count", q->count, UINT32_MAX, &count, error));
    PP_TRY(pp_job_read(path, &d->memory, &d->job, error));
    if (!d->job.holes.nominal.path)
        return pp_fail_at(error, PP_ENOTHING, path, 0, 0,
                          "there are no holes to draw from; give nominal under [holes]");
    PP_TRY(pp_nominal_read(&d->job, threads, &d->memory, &d->nominal, error));
    d->population = tube_holes(d);
    if (q->more)
        PP_TRY(plan_more(d, threads, q->count != NULL, error));
    else if (!q->count)
        PP_TRY(plan_first(d));
    if (q->count) d->wanted = (size_t)count;
    size_t left = tube_holes(d);
    if (d->wanted > left)
        return pp_fail(error, PP_EINPUT,
                       "--count %zu is more than the %zu tube holes there are%s; ask for fewer",
                       d->wanted, left, q->more ? " without a reading" : "");
    PP_TAKE(d->holes, &d->memory.keep, d->wanted);
    d->drawn = pp_sample_draw(d->seed, &d->nominal, d->skip, d->wanted, d->holes);
    double pitch;
    PP_TRY(pp_pitch_find(d->job.holes.pitch, &d->nominal, threads, &d->memory, &pitch, error));
    return pp_labels_find(&d->nominal, pitch, &d->memory, &d->rows, &d->columns, error);
}

static void add_csv(const drawing *d, pp_text *text)
{
    pp_text_add(text, "hole,x_mm,y_mm,row,column\n");
    for (size_t i = 0; i < d->drawn; i++) {
        uint32_t h = d->holes[i];
        pp_list_add_field(text, d->nominal.name[h]);
        pp_text_add(text, ",");
        pp_text_add_number(text, d->nominal.x[h]);
        pp_text_add(text, ",");
        pp_text_add_number(text, d->nominal.y[h]);
        pp_text_print(text, ",%u,%u\n", d->rows[h], d->columns[h]);
    }
}

/* {"population", "seed", "count", "holes": [name, ...]} */
static void add_json(const drawing *d, pp_text *text)
{
    json_t *root = json_pack("{s:I, s:I, s:I}", "population", (json_int_t)d->population, "seed",
                             (json_int_t)d->seed, "count", (json_int_t)d->drawn);
    json_t *holes = json_array();
    for (size_t i = 0; i < d->drawn; i++)
        json_array_append_new(holes, json_string(d->nominal.name[d->holes[i]]));
    bool whole = json_array_size(holes) == d->drawn;
    whole = json_object_set_new(root, "holes", holes) == 0 && whole;
    char *dump = whole ? json_dumps(root, 0) : NULL;
    if (dump)
        pp_text_print(text, "%s\n", dump);
    else
        text->failed = true;
    free(dump);
    json_decref(root);
}

static int write_list(const drawing *d, const pp_common_options *common)
{
    pp_text text = {0};
    if (common->json)
        add_json(d, &text);
    else
        add_csv(d, &text);
    int status = pp_list_write(&text, common);
    if (status == PP_EXIT_CONFORMS && common->output && !common->json && !common->quiet)
        pp_say(stdout, "%s: %zu of %zu tube holes, drawn with seed %llu\n", common->output,
               d->drawn, d->population, (unsigned long long)d->seed);
    return status;
}

int pp_cmd_sample(int argc, char **argv)
{
    sample_request q = {0};
    const pp_own_option own[] = {
        {"count", true, &q.count}, {"seed", true, &q.seed}, {"more", false, &q.more}, {0}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &help, &line, &status) || line.done) return status;
    drawing d = {0};
    pp_error error = {0};
    pp_status result = draw(&d, &q, line.words[0], line.common.threads, &error);
    status = result == PP_OK ? write_list(&d, &line.common) : pp_exit_error(&error);
    pp_memory_free(&d.memory);
    return status;
}
