#include "run/bundle_run.h"

#include <string.h>

#include "answer/inputs.h"
#include "input/job/ini.h"

/* A list that a plate's job file names is named as seen from the set file. */
static pp_status add_list(pp_input_list *list, const pp_set_plate *plate, const char *role,
                          const pp_job_file *file, const pp_table_reading *reading,
                          pp_memory *memory, pp_error *error)
{
    if (!file->path) return PP_OK;
    pp_job_file named = *file;
    if (plate->job_file.path && *file->written != '/')
        named.written = pp_path_beside(&memory->keep, plate->job_file.written, file->written);
    if (!named.written) return pp_fail_memory(error);
    pp_inputs_add(list, plate->job, role, &named, reading);
    return PP_OK;
}

static pp_status name_inputs(const pp_set *set, const pp_mates *mates, int threads,
                             pp_memory *memory, pp_bundle_results *results, pp_error *error)
{
    pp_input_list *list;
    pp_input_file *files;
    PP_TAKE_ZERO(list, &memory->keep, 1);
    pp_inputs_add_path(list, "job", set->path, set->path);
    pp_inputs_add(list, set->job, "tubes", &set->tube.places, mates->places_read);
    for (size_t p = 0; p < set->plate_count; p++) {
        const pp_set_plate *plate = &set->plates[p];
        pp_inputs_add_path(list, "plate_job", plate->job_file.path, plate->job_file.written);
        PP_TRY(add_list(list, plate, "nominal", &plate->job->holes.nominal, mates->read[2 * p],
                        memory, error));
        PP_TRY(add_list(list, plate, "measured", &plate->job->holes.measured,
                        mates->read[2 * p + 1], memory, error));
        PP_TRY(add_list(list, plate, "datum_points", &plate->job->holes.datum_points, NULL, memory,
                        error));
    }
    PP_TRY(pp_inputs_hash(list, threads, error));
    PP_TAKE(files, &memory->keep, list->count);
    memcpy(files, list->items, list->count * sizeof *files);
    results->inputs = files;
    results->input_count = list->count;
    return PP_OK;
}

pp_status pp_bundle_run(const pp_set *set, const pp_bundle_options *options, pp_memory *memory,
                        pp_bundle_results *results, pp_error *error)
{
    pp_bundle_results out = {.set = set};
    pp_bundle *bundle;
    pp_bundle_judgement *judgement;
    PP_TAKE(bundle, &memory->keep, 1);
    PP_TAKE(judgement, &memory->keep, 1);
    PP_TRY(pp_bundle_study(set, options, memory, bundle, error));
    PP_TRY(pp_bundle_judge(bundle, memory, judgement, error));
    PP_TRY(name_inputs(set, &bundle->mates, options->threads, memory, &out, error));
    out.bundle = bundle;
    out.judgement = judgement;
    *results = out;
    return PP_OK;
}
