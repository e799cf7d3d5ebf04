#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer/inputs.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "plateproof/version.h"
#include "run/run.h"
#include "verify/compare.h"
#include "verify/sign.h"

enum { SHOWN_MAX = 20 }; /* differences printed; --json gives them all */

static const pp_command_help HELP = {
    "plateproof verify FOLDER [--inputs DIR] [--trust FILE]",
    "Recomputes a report from the inputs it names and says whether it still holds: whether job,\n"
    "survey and hole lists are the very files it was made from (SHA-256), whether every value and\n"
    "every page is what they give, and whether the signature, if there is one, is sound.\n\n"
    "      --inputs DIR   the job and its data are in DIR now\n"
    "      --trust FILE   the public key that must have signed it\n\n"
    "Exit status: 0 it holds, 1 it does not, 2 FOLDER is no report, 3 a file cannot be read.\n\n"
    "  plateproof verify plate-report\n"
    "  plateproof verify plate-report --inputs archive/2026-118 --trust inspection-office.pub\n",
    .json = true,
};

typedef struct verification {
    const char *folder, *inputs_folder, *trusted_key; /* key as base64, NULL: none named */
    const pp_common_options *common;
    pp_memory memory;
    pp_recorded recorded;
    pp_signature signature;
    pp_comparison *comparison;
    bool inputs_there, recomputed;
    pp_error why_not; /* why it could not be recomputed */
} verification;

static pp_scope scope_of(const char *command)
{
    if (strcmp(command, "flatness") == 0) return PP_SCOPE_FLATNESS;
    if (strcmp(command, "holddown") == 0) return PP_SCOPE_HOLDDOWN;
    if (strcmp(command, "holes") == 0) return PP_SCOPE_HOLES;
    return PP_SCOPE_ALL;
}

static size_t count_of(const pp_comparison *comparison, pp_difference_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < comparison->count && i < PP_DIFFERENCES_KEPT; i++)
        count += comparison->items[i].kind == kind;
    return count;
}

/* ---- doing ---- */

static pp_status recompute(verification *v, pp_error *error)
{
    pp_job job;
    pp_results now = {0};
    char date[16];
    const pp_run_options options = {.scope = scope_of(v->recorded.command),
                                    .threads = v->common->threads};
    PP_TRY(pp_job_read(v->recorded.job_path, &v->memory, &job, error));
    if (v->inputs_folder)
        PP_TRY(pp_inputs_relocate(&job, v->inputs_folder, &v->memory.keep, error));
    PP_TRY(pp_run(&job, &options, &v->memory, &now, error));
    now.date = pp_session_date(&job, date);
    return pp_compare_report(&v->recorded, &now, v->common->threads, &v->memory, v->comparison,
                             error);
}

static pp_status examine(verification *v, pp_error *error)
{
    int threads = v->common->threads;
    PP_TRY(pp_recorded_read(v->folder, v->inputs_folder, &v->memory, &v->recorded, error));
    PP_TRY(pp_signature_check(v->folder, threads, &v->memory, &v->signature, error));
    PP_TRY(pp_compare_inputs(&v->recorded, threads, &v->memory, v->comparison, error));
    v->inputs_there = count_of(v->comparison, PP_INPUT_MISSING) == 0;
    if (!v->inputs_there) return PP_OK;
    pp_status status = recompute(v, &v->why_not);
    v->recomputed = status == PP_OK;
    bool changed = count_of(v->comparison, PP_INPUT_CHANGED) > 0;
    if (v->recomputed || changed) return PP_OK; /* what changed may well not compute */
    *error = v->why_not;
    return status;
}

static bool signature_holds(const verification *v)
{
    const pp_signature *s = &v->signature;
    if (!s->present) return v->trusted_key == NULL;
    if (!s->sound || s->fault_count) return false;
    return !v->trusted_key || strcmp(v->trusted_key, s->public_key) == 0;
}

static bool holds(const verification *v)
{
    return v->recomputed && v->comparison->count == 0 && signature_holds(v);
}

/* ---- saying ---- */

static const char *kind_words(pp_difference_kind kind)
{
    switch (kind) {
    case PP_INPUT_CHANGED:
        return "changed input";
    case PP_INPUT_MISSING:
        return "missing input";
    case PP_REPORT_MISSING:
        return "missing file";
    case PP_REPORT_SURPLUS:
        return "surplus file";
    case PP_RESULT_CHANGED:
        return "changed result";
    case PP_PAGE_CHANGED:
        return "changed page";
    }
    return "";
}

static void print_difference(const pp_difference *d)
{
    pp_say(stdout, "  %-15s %s", kind_words(d->kind), d->file);
    switch (d->kind) {
    case PP_INPUT_CHANGED:
        pp_say(stdout, " (%s): SHA-256 was %.12s..., is %.12s...", d->where, d->recorded, d->now);
        break;
    case PP_INPUT_MISSING:
        pp_say(stdout, " (%s): not there; say where with --inputs DIR", d->where);
        break;
    case PP_RESULT_CHANGED:
        pp_say(stdout, ": %s", d->where);
        if (d->recorded || d->now)
            pp_say(stdout, ": recorded %s, recomputed %s", d->recorded ? d->recorded : "nothing",
                   d->now ? d->now : "nothing");
        break;
    case PP_PAGE_CHANGED:
        pp_say(stdout, ": not the page that the results give");
        break;
    case PP_REPORT_SURPLUS:
        pp_say(stdout, ": the results give no such file");
        break;
    case PP_REPORT_MISSING:
        break;
    }
    pp_say(stdout, "\n");
}

static const char *fault_words(pp_signature_fault_kind kind)
{
    return kind == PP_FILE_CHANGED   ? "changed since it was signed"
           : kind == PP_FILE_MISSING ? "removed since it was signed"
                                     : "added since it was signed";
}

static void print_signature(const verification *v)
{
    const pp_signature *s = &v->signature;
    if (!s->present) {
        pp_say(stdout, "  signature       none%s\n",
               v->trusted_key ? ", but one by the key named with --trust is asked for" : "");
        return;
    }
    if (!s->sound) {
        pp_say(stdout, "  signature       NOT SOUND: %s\n", s->why_not);
        return;
    }
    for (size_t i = 0; i < s->fault_count && i < SHOWN_MAX; i++)
        pp_say(stdout, "  signature       %s: %s\n", s->faults[i].file,
               fault_words(s->faults[i].kind));
    pp_say(stdout, "  signature       %s by \"%s\", public key %s\n",
           s->fault_count ? "of other files," : "sound,", s->signer, s->public_key);
    if (!v->trusted_key)
        pp_say(stdout,
               "                  the name proves nothing by itself: compare the key, or name one "
               "with --trust\n");
    else
        pp_say(stdout, "                  the key is %s\n",
               strcmp(v->trusted_key, s->public_key) == 0 ? "the trusted one"
                                                          : "NOT the trusted one");
}

static void print_findings(const verification *v)
{
    const pp_comparison *c = v->comparison;
    size_t kept = c->count < PP_DIFFERENCES_KEPT ? c->count : PP_DIFFERENCES_KEPT;
    for (size_t i = 0; i < kept && i < SHOWN_MAX; i++) print_difference(&c->items[i]);
    if (c->count > SHOWN_MAX) pp_say(stdout, "  and %zu more differences\n", c->count - SHOWN_MAX);
    if (!v->inputs_there)
        pp_say(stdout, "  Nothing was recomputed, for inputs are missing.\n");
    else if (!v->recomputed)
        pp_say(stdout, "  The changed inputs cannot be computed: %s\n", v->why_not.message);
    else if (count_of(c, PP_INPUT_CHANGED))
        pp_say(stdout, "  Results were recomputed from the changed inputs.\n");
}

static void print_answer(const verification *v)
{
    const pp_comparison *c = v->comparison;
    pp_say(stdout, "%s: %s\n", v->folder,
           holds(v)          ? "holds"
           : v->inputs_there ? "DOES NOT HOLD"
                             : "CANNOT BE VERIFIED");
    if (v->recomputed)
        pp_say(stdout,
               "  recomputed      from %zu inputs; %zu values, %zu table rows and %zu files "
               "compared\n",
               v->recorded.input_count, c->values, c->rows, c->files);
    print_findings(v);
    print_signature(v);
    if (strcmp(v->recorded.version, pp_version()) != 0)
        pp_say(stdout, "  version         written by plateproof %s, verified by %s\n",
               v->recorded.version, pp_version());
}

static json_t *differences_json(const pp_comparison *c)
{
    json_t *list = json_array();
    for (size_t i = 0; i < c->count && i < PP_DIFFERENCES_KEPT; i++) {
        const pp_difference *d = &c->items[i];
        json_array_append_new(list,
                              json_pack("{s:s, s:s, s:s?, s:s?, s:s?}", "kind", kind_words(d->kind),
                                        "file", d->file, "where", d->where, "recorded", d->recorded,
                                        "recomputed", d->now));
    }
    return list;
}

static int print_json(const verification *v)
{
    const pp_signature *s = &v->signature;
    json_t *faults = json_array();
    for (size_t i = 0; i < s->fault_count; i++)
        json_array_append_new(faults, json_pack("{s:s, s:s}", "file", s->faults[i].file, "fault",
                                                fault_words(s->faults[i].kind)));
    json_t *root = json_pack("{s:s, s:b, s:b, s:i, s:o, s:{s:b, s:b, s:s?, s:s?, s:o}}", "folder",
                             v->folder, "holds", holds(v), "recomputed", v->recomputed,
                             "difference_count", (int)v->comparison->count, "differences",
                             differences_json(v->comparison), "signature", "present", s->present,
                             "sound", s->present && s->sound && s->fault_count == 0, "signer",
                             s->signer, "public_key", s->public_key, "faults", faults);
    char *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
    json_decref(root);
    if (!text) return pp_exit_of(PP_ENOMEM);
    int status = pp_write_out(text, strlen(text));
    free(text);
    if (status == PP_EXIT_CONFORMS) status = pp_write_out("\n", 1);
    return status;
}

static int answer(const verification *v)
{
    if (v->common->json) {
        int status = print_json(v);
        if (status != PP_EXIT_CONFORMS) return status;
    } else if (!v->common->quiet) {
        print_answer(v);
    }
    if (!v->inputs_there) return PP_EXIT_SYSTEM;
    return holds(v) ? PP_EXIT_CONFORMS : PP_EXIT_FAILS;
}

static int verify(verification *v, const char *trusted_file)
{
    pp_error error = {0};
    char trusted[PP_PUBLIC_KEY_MAX];
    v->comparison = pp_arena_take_zero(&v->memory.keep, 1, sizeof *v->comparison);
    if (!v->comparison) {
        pp_fail_memory(&error);
        return pp_exit_error(&error);
    }
    if (trusted_file) {
        if (pp_public_key_read(trusted_file, trusted, &error) != PP_OK)
            return pp_exit_error(&error);
        v->trusted_key = trusted;
    }
    if (examine(v, &error) != PP_OK) return pp_exit_error(&error);
    return answer(v);
}

int pp_cmd_verify(int argc, char **argv)
{
    const char *inputs = NULL, *trust = NULL;
    const pp_own_option own[] = {
        {"inputs", true, &inputs}, {"trust", true, &trust}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    verification v = {.folder = line.words[0], .inputs_folder = inputs, .common = &line.common};
    status = verify(&v, trust);
    pp_recorded_free(&v.recorded);
    pp_memory_free(&v.memory);
    return status;
}
