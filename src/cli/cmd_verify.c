#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "cli/session.h"
#include "plateproof/version.h"
#include "run/verification.h"

enum { SHOWN_MAX = 20 }; /* differences printed; --json gives them all */

static const pp_command_help HELP = {
    "plateproof verify FOLDER [--trust FILE] [--inputs DIR]",
    "Says which report this is, and three things apart: whether it is as somebody signed it, "
    "whether\n"
    "the same inputs (SHA-256) give the same numbers, and whether its pages are those of the\n"
    "numbers.\n\n"
    "      --trust FILE      who must have signed it: a public key, or several in one file\n"
    "      --revoked FILE    keys that no longer count, one a line, whenever they signed\n"
    "      --signature-only  only the signature: needs no inputs\n"
    "      --inputs DIR      the job and its data are in DIR now\n"
    "      --outside         open inputs outside the job's folder too\n\n"
    "Exit status: 0 it holds; 1 it does not; 2 FOLDER is no report, or wrong words; 3 a file "
    "cannot\n"
    "be read, or inputs are missing so that nothing was recomputed.\n\n"
    "  plateproof verify plate-report\n"
    "  plateproof verify plate-report --inputs archive/2026-118 --trust inspection-office.pub\n",
    .json = true,
};

typedef struct question {
    const char *folder;
    pp_verification_options options;
    const pp_verification *found;
} question;

/* ---- saying ---- */

static const char *kind_words(pp_difference_kind kind)
{
    switch (kind) {
    case PP_INPUT_CHANGED:
        return "changed input";
    case PP_INPUT_MISSING:
        return "missing input";
    case PP_INPUT_NOT_OPENED:
        return "unopened input";
    case PP_REPORT_MISSING:
        return "missing file";
    case PP_REPORT_SURPLUS:
        return "surplus file";
    case PP_RESULT_CHANGED:
        return "changed result";
    case PP_PAGE_CHANGED:
        return "changed page";
    case PP_PAGE_OTHER_ENGINE:
        return "page";
    }
    return "";
}

static void say_difference(const pp_difference *d)
{
    pp_say(stdout, "  %-15s %s", kind_words(d->kind), d->file);
    switch (d->kind) {
    case PP_INPUT_CHANGED:
        pp_say(stdout, " (%s): SHA-256 was %.12s..., is %.12s...", d->where, d->recorded, d->now);
        break;
    case PP_INPUT_MISSING:
        pp_say(stdout, " (%s): not there; say where with --inputs DIR", d->where);
        break;
    case PP_INPUT_NOT_OPENED:
        pp_say(stdout, " (%s): %s", d->where, d->recorded);
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
    case PP_PAGE_OTHER_ENGINE:
        pp_say(stdout, ": made with %s, here are %s: page bytes not compared, %s", d->recorded,
               d->now, d->where);
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

static const char *text_at(const json_t *root, const char *section, const char *key)
{
    const json_t *object = section ? json_object_get(root, section) : root;
    return json_string_value(json_object_get(object, key));
}

static void say_fact(const char *before, const char *value)
{
    if (value && *value) pp_say(stdout, "%s%s", before, value);
}

/* "  report          118 revision 2, plate FT-K3, serial 7; verdict: does not conform" */
static void say_report(const question *q)
{
    const json_t *root = q->found->recorded.root;
    const char *number = text_at(root, "job", "report_number");
    const char *plate = text_at(root, "job", "plate_id"), *verdict = text_at(root, NULL, "verdict");
    pp_say(stdout, "  report          %s", number && *number ? number : "without a number");
    say_fact(", revision ", text_at(root, "job", "report_revision"));
    say_fact(", plate ", plate);
    say_fact(", serial ", text_at(root, "job", "serial"));
    if (!plate) say_fact(", ", text_at(root, "job", "title"));
    pp_say(stdout, "; it says: %s\n", verdict ? verdict : "nothing");
    pp_say(stdout, "                  results %.12s; the foot of its papers must say the same\n",
           q->found->recorded.results_sha256);
}

static void say_signer(const question *q, const pp_signer *s)
{
    pp_say(stdout, "                  \"%s\"", s->name);
    say_fact(", ", s->role);
    say_fact(", ", s->time);
    say_fact(", to \"", s->verdict);
    pp_say(stdout, "%s%s\n                  key %s%s%s\n", s->verdict ? "\"" : "",
           s->as_is ? ", signed as it was, not recomputed" : "", s->public_key,
           s->revoked ? ": REVOKED" : "",
           !q->options.trusted ? ""
           : s->trusted        ? ": a trusted one"
                               : ": not a trusted one");
}

static void say_signature(const question *q)
{
    const pp_signature *s = &q->found->signature;
    if (!s->present) {
        pp_say(stdout, "  signature       none%s\n",
               q->options.trusted ? ", but one by a key of --trust is asked for" : "");
        return;
    }
    if (!s->sound)
        pp_say(stdout, "  signature       NOT SOUND: %s\n", s->why_not);
    else if (s->fault_count)
        pp_say(stdout, "  signature       OF OTHER FILES: what is here is not what was signed\n");
    else if (q->found->signed_answer == PP_ANSWER_HOLDS)
        pp_say(stdout, "  signature       sound: every byte is as signed\n");
    else
        pp_say(stdout, "  signature       sound, but by NO KEY THAT COUNTS\n");
    for (size_t i = 0; i < s->fault_count && i < SHOWN_MAX; i++)
        pp_say(stdout, "                  %s: %s\n", s->faults[i].file,
               fault_words(s->faults[i].kind));
    if (!s->sound) return; /* its names prove nothing */
    for (size_t i = 0; i < s->signer_count; i++) say_signer(q, &s->signers[i]);
    if (!q->options.trusted)
        pp_say(stdout,
               "                  a name proves nothing by itself: compare the key, or name "
               "those you trust with --trust\n");
}

static void say_recomputation(const question *q)
{
    const pp_verification *v = q->found;
    const pp_differences *c = v->comparison;
    if (q->options.signature_only) {
        pp_say(stdout, "  recomputation   not asked for\n  pages           not asked for\n");
        return;
    }
    if (!v->inputs_there) {
        pp_say(stdout, "  recomputation   not possible: inputs are missing\n"
                       "  pages           not compared\n");
    } else if (!v->recomputed) {
        pp_say(stdout,
               "  recomputation   FAILS: what the inputs are now cannot be computed (%s:%ld)\n",
               v->why_not.file, v->why_not.line);
    } else {
        pp_say(stdout,
               "  recomputation   %s: %zu inputs%s, %zu values and %zu table rows compared\n",
               v->recomputation == PP_ANSWER_HOLDS ? "holds" : "FAILS", v->recorded.input_count,
               v->recorded.sealed ? " (in the folder)" : "", c->values, c->rows);
        pp_say(stdout, "  pages           %s: %zu files compared\n",
               v->pages == PP_ANSWER_HOLDS ? "hold" : "FAIL", c->files);
    }
    size_t kept = c->count < PP_DIFFERENCES_KEPT ? c->count : PP_DIFFERENCES_KEPT;
    for (size_t i = 0; i < kept && i < SHOWN_MAX; i++) say_difference(&c->items[i]);
    if (c->count > SHOWN_MAX) pp_say(stdout, "  and %zu more differences\n", c->count - SHOWN_MAX);
    for (size_t i = 0; i < v->extra_count; i++)
        pp_say(stdout, "  not a report's  %s: no part of the report, not looked at\n", v->extra[i]);
    if (v->inputs_there && !v->inputs_same && v->recomputed)
        pp_say(stdout, "  Results were recomputed from the changed inputs.\n");
}

static void say_answer(const question *q)
{
    const pp_verification *v = q->found;
    pp_say(stdout, "%s: %s\n", q->folder,
           pp_verification_holds(v, &q->options)          ? "holds"
           : v->inputs_there || q->options.signature_only ? "DOES NOT HOLD"
           : v->signed_answer == PP_ANSWER_FAILS          ? "DOES NOT HOLD"
                                                          : "CANNOT BE RECOMPUTED HERE");
    say_report(q);
    say_signature(q);
    say_recomputation(q);
    if (strcmp(v->recorded.version, pp_version()) != 0)
        pp_say(
            stdout,
            "  version         written by plateproof %s, verified by %s: what differs may be due "
            "to that\n",
            v->recorded.version, pp_version());
}

/* ---- as JSON ---- */

static const char *answer_words(pp_answer answer)
{
    return answer == PP_ANSWER_HOLDS ? "holds" : answer == PP_ANSWER_FAILS ? "fails" : "none";
}

static json_t *differences_json(const pp_differences *c)
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

static json_t *signature_json(const pp_signature *s)
{
    json_t *faults = json_array(), *signers = json_array();
    for (size_t i = 0; i < s->fault_count; i++)
        json_array_append_new(faults, json_pack("{s:s, s:s}", "file", s->faults[i].file, "fault",
                                                fault_words(s->faults[i].kind)));
    for (size_t i = 0; i < s->signer_count; i++) {
        const pp_signer *g = &s->signers[i];
        json_array_append_new(
            signers, json_pack("{s:s, s:s?, s:s?, s:s?, s:s?, s:s?, s:s?, s:s, s:b, s:b, s:b}",
                               "name", g->name, "role", g->role, "time", g->time, "plate", g->plate,
                               "report", g->report, "revision", g->revision, "verdict", g->verdict,
                               "public_key", g->public_key, "as_is", g->as_is, "revoked",
                               g->revoked, "trusted", g->trusted));
    }
    const pp_signer *first = s->signer_count ? &s->signers[0] : NULL;
    return json_pack("{s:b, s:b, s:s?, s:s?, s:o, s:o}", "present", s->present, "sound",
                     s->present && s->sound && s->fault_count == 0, "signer",
                     first ? first->name : NULL, "public_key", first ? first->public_key : NULL,
                     "signers", signers, "faults", faults);
}

static json_t *extra_json(const pp_verification *v)
{
    json_t *list = json_array();
    for (size_t i = 0; i < v->extra_count; i++)
        json_array_append_new(list, json_string(v->extra[i]));
    return list;
}

static int print_json(const question *q)
{
    const pp_verification *v = q->found;
    json_t *answers =
        json_pack("{s:s, s:s, s:s}", "signature", answer_words(v->signed_answer), "recomputation",
                  answer_words(v->recomputation), "pages", answer_words(v->pages));
    json_t *root =
        json_pack("{s:s, s:b, s:o, s:b, s:i, s:o, s:o, s:o}", "folder", q->folder, "holds",
                  pp_verification_holds(v, &q->options), "answers", answers, "recomputed",
                  v->recomputed, "difference_count", (int)v->comparison->count, "differences",
                  differences_json(v->comparison), "not_a_reports", extra_json(v), "signature",
                  signature_json(&v->signature));
    char *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
    json_decref(root);
    if (!text) return pp_exit_of(PP_ENOMEM);
    int status = pp_write_out(text, strlen(text));
    free(text);
    if (status == PP_EXIT_CONFORMS) status = pp_write_out("\n", 1);
    return status;
}

/* ---- doing ---- */

static int exit_status(const question *q)
{
    const pp_verification *v = q->found;
    if (pp_verification_holds(v, &q->options)) return PP_EXIT_CONFORMS;
    bool unproven = !v->inputs_there && !q->options.signature_only;
    return unproven && v->signed_answer != PP_ANSWER_FAILS ? PP_EXIT_SYSTEM : PP_EXIT_FAILS;
}

static int verify(question *q, const pp_common_options *common, pp_memory *memory)
{
    pp_error error = {0};
    pp_verification found;
    if (pp_verify(q->folder, &q->options, memory, &found, &error) != PP_OK)
        return pp_exit_error(&error);
    q->found = &found;
    int status = PP_EXIT_CONFORMS;
    if (common->json)
        status = print_json(q);
    else if (!common->quiet)
        say_answer(q);
    if (status == PP_EXIT_CONFORMS) status = exit_status(q);
    pp_verification_free(&found);
    q->found = NULL;
    return status;
}

static bool read_keys(const char *file, pp_memory *memory, pp_key_list *list,
                      const pp_key_list **used, int *status)
{
    pp_error error = {0};
    if (!file) return true;
    *used = list;
    if (pp_key_list_read(file, &memory->keep, list, &error) == PP_OK) return true;
    *status = pp_exit_error(&error);
    return false;
}

int pp_cmd_verify(int argc, char **argv)
{
    const char *inputs = NULL, *trust = NULL, *revoked = NULL, *only = NULL, *outside = NULL;
    const pp_own_option own[] = {{"inputs", true, &inputs},    {"trust", true, &trust},
                                 {"revoked", true, &revoked},  {"signature-only", false, &only},
                                 {"outside", false, &outside}, {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &HELP, &line, &status) || line.done) return status;
    char date[16];
    pp_memory memory = {0};
    pp_key_list trusted_keys, revoked_keys;
    question q = {.folder = line.words[0],
                  .options = {.inputs = {inputs, outside != NULL},
                              .signature_only = only != NULL,
                              .date = pp_session_date(NULL, date, NULL),
                              .threads = line.common.threads}};
    if (read_keys(trust, &memory, &trusted_keys, &q.options.trusted, &status) &&
        read_keys(revoked, &memory, &revoked_keys, &q.options.revoked, &status))
        status = verify(&q, &line.common, &memory);
    pp_memory_free(&memory);
    return status;
}
