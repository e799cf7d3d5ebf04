/* plateproof history: many plates in one file, and what they say about the process. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/nearest.h"
#include "base/number.h"
#include "cli/commands.h"
#include "cli/options.h"
#include "cli/say.h"
#include "history/add.h"
#include "history/questions.h"
#include "report/folder/folder.h"
#include "report/history/answers.h"
#include "report/history/history_page.h"

static const double TOOL_SHARE = 0.01; /* of a tool's holes that may be beyond a limit */

static const pp_command_help help = {
    "plateproof history QUESTION FILE ...",
    "Keeps the reports of many plates in one file, and says what they tell of the process.\n\n"
    "  add FILE FOLDER...        adds report folders; makes the file where there is none\n"
    "  note FILE TEXT            an event: charts and trends of the machine start anew there\n"
    "  list FILE                 plates, figures, machines, events\n"
    "  chart FILE FIGURE         individuals and moving range, plate after plate\n"
    "  share FILE FIGURE         a chart of counted holes: outside, undersize, oversize, thin\n"
    "  capability FILE diameter  indices with intervals, within --lower and --upper\n"
    "  capability FILE position  the same within --limit\n"
    "  trend FILE FIGURE         does it change from plate to plate?\n"
    "  causes FILE [FIGURE]      what it goes with: supplier, heat, machine, operator, instrument\n"
    "  tools FILE                how many holes a tool may drill, within --lower and --upper\n"
    "  page FILE -o DIR          one HTML page: charts, shares, capability, tools, with their "
    "CSVs\n"
    "  check FILE                is the file sound, is every report still there and unchanged?\n\n"
    "A report is known by its plate (order, item, plate_id, serial), stage and report_number; the\n"
    "same one is added once. Operator and inspector are persons: they are left out unless asked\n"
    "for.\n\n"
    "Own options:\n"
    "      --replace          add: a changed report takes the place of the one that is there\n"
    "      --with-operator    add: keep operator and inspector\n"
    "      --machine NAME     note: of this machine; else of all\n"
    "      --date DATE        note: when it changed, YYYY-MM-DD\n"
    "      --where KEY=VALUE  only such plates; may be repeated. Keys: supplier, heat, machine,\n"
    "                         operator, instrument, role, stage\n"
    "      --since DATE       only plates from then on\n"
    "      --until DATE       only plates up to then\n"
    "      --base N           chart: limits from the first N plates\n"
    "      --days             trend: per day, not per plate\n"
    "      --lower LENGTH     capability, tools, page: the lower limit of the diameter, mm\n"
    "      --upper LENGTH     capability, tools, page: the upper one, mm\n"
    "      --limit LENGTH     capability, page: the diametral limit of the position, mm; a page\n"
    "                         takes the limits of the latest plate where none is given\n"
    "      --share SHARE      tools, page: the part of a tool's holes that may be beyond; 0.01\n\n"
    "Examples:\n"
    "  plateproof history add shop.history plate-*-report\n"
    "  plateproof history chart shop.history \"scale common\" --where machine=borer\n"
    "\nExit status: 0 done; 1 check found something; 2 the command line or the data are wrong, or\n"
    "a report was refused; 3 a file could not be read or written.\n",
    .output = "DIR",
    .json = true,
    .repeated = "where",
};

typedef struct history_run {
    const pp_common_options *common;
    const char *question, *file;
    int count; /* further words */
    char *const *words;
    const char *replace, *with_operator, *machine, *date, *since, *until, *base, *days, *lower,
        *upper, *limit, *share;
    const char *where[PP_REPEATS_MAX];
    double lower_mm, upper_mm, limit_mm, share_given;
    size_t base_plates;
    pp_selection selection;
    pp_history history;
    pp_memory memory;
    pp_error error;
    bool some_refused, some_unreadable;
    pp_text text;
} history_run;

/* ---- add and note ---- */

/* UTC as ISO 8601; SOURCE_DATE_EPOCH for who needs the same bytes. */
static void tell_time(char text[32])
{
    const char *epoch = getenv("SOURCE_DATE_EPOCH");
    time_t now = epoch && *epoch ? (time_t)strtoll(epoch, NULL, 10) : time(NULL);
    struct tm parts;
    gmtime_r(&now, &parts);
    strftime(text, 32, "%Y-%m-%dT%H:%M:%SZ", &parts);
}

typedef struct counts {
    size_t added, replaced, already_there, refused;
} counts;

/* Once; a new history is made only when there is a report to put into it. */
static pp_status open_to_add(history_run *r)
{
    if (r->history.db) return PP_OK;
    PP_TRY(pp_history_open(r->file, PP_HISTORY_CREATE, &r->history, &r->error));
    if (r->history.network)
        pp_say(
            stderr,
            "plateproof: %s lies on a network share: without its write-ahead log, and slower; let "
            "one machine write at a time\n",
            r->file);
    return PP_OK;
}

/* What became of one report. */
static pp_status add_one(history_run *r, const char *folder, const char *now, counts *n)
{
    pp_kept_report report;
    pp_added fate;
    char why[PP_ADDED_TEXT_MAX];
    pp_mark mark = pp_arena_mark(&r->memory.keep);
    pp_status status = pp_kept_report_read(folder, r->with_operator != NULL, r->common->threads,
                                           &r->memory, &report, &r->error);
    if (status == PP_EINPUT || status == PP_EIO) {
        n->refused++;
        *(status == PP_EIO ? &r->some_unreadable : &r->some_refused) = true;
        pp_exit_error(&r->error);
        return PP_OK;
    }
    PP_TRY(status);
    PP_TRY(open_to_add(r));
    PP_TRY(pp_history_add(&r->history, &report, r->replace != NULL, now, &r->memory, &fate, why,
                          &r->error));
    static const char *const WORDS[] = {"added", "replaced", "already there", "refused"};
    size_t *const tally[] = {&n->added, &n->replaced, &n->already_there, &n->refused};
    ++*tally[fate];
    if (fate == PP_ADDED_REFUSED) {
        r->some_refused = true;
        pp_say(stderr, "%s: refused: %s\n", folder, why);
    } else if (!r->common->quiet) {
        pp_say(stderr, "%s: %s\n", folder, WORDS[fate]);
    }
    pp_arena_release(&r->memory.keep, mark);
    return PP_OK;
}

static pp_status run_add(history_run *r)
{
    char now[32];
    counts n = {0};
    tell_time(now);
    if (access(r->file, F_OK) == 0) PP_TRY(open_to_add(r));
    for (int i = 0; i < r->count; i++) PP_TRY(add_one(r, r->words[i], now, &n));
    if (r->common->json)
        pp_text_print(
            &r->text,
            "{\n  \"format\": \"plateproof-history\",\n  \"version\": 1,\n  \"question\": "
            "\"add\",\n  \"added\": %zu,\n  \"replaced\": %zu,\n  \"already_there\": %zu,\n"
            "  \"refused\": %zu\n}\n",
            n.added, n.replaced, n.already_there, n.refused);
    else if (!r->common->quiet)
        pp_text_print(&r->text, "%zu added, %zu replaced, %zu already there, %zu refused\n",
                      n.added, n.replaced, n.already_there, n.refused);
    return PP_OK;
}

static pp_status run_note(history_run *r)
{
    char now[32];
    tell_time(now);
    PP_TRY(pp_history_open(r->file, PP_HISTORY_READ, &r->history, &r->error));
    PP_TRY(pp_history_note(&r->history, r->words[0], r->machine, r->date, now, &r->error));
    if (!r->common->quiet && !r->common->json) pp_text_print(&r->text, "noted\n");
    return PP_OK;
}

/* ---- questions ---- */

typedef struct answers { /* room for whichever is asked */
    pp_chart_answer chart;
    pp_share_answer share;
    pp_capability_answer capability;
    pp_trend_answer trend;
    pp_cause_answer causes;
    pp_tool_answer tools;
    pp_list_answer list;
    pp_check_answer check;
} answers;

static pp_status ask(history_run *r, answers *room, pp_history_answer *a)
{
    pp_arena *arena = &r->memory.keep;
    const char *word = r->count ? r->words[0] : NULL;
    const char *question = r->question;
    if (strcmp(question, "chart") == 0) {
        a->chart = &room->chart;
        return pp_ask_chart(&r->history, &r->selection, word, r->base_plates, arena, &room->chart,
                            &r->error);
    }
    if (strcmp(question, "share") == 0) {
        a->share = &room->share;
        return pp_ask_share(&r->history, &r->selection, word, arena, &room->share, &r->error);
    }
    if (strcmp(question, "capability") == 0) {
        a->capability = &room->capability;
        return pp_ask_capability(
            &r->history, &r->selection,
            &(pp_capability_question){word, r->lower_mm, r->upper_mm, r->limit_mm}, arena,
            &room->capability, &r->error);
    }
    if (strcmp(question, "trend") == 0) {
        a->trend = &room->trend;
        return pp_ask_trend(&r->history, &r->selection, word, r->days != NULL, arena, &room->trend,
                            &r->error);
    }
    if (strcmp(question, "causes") == 0) {
        a->causes = &room->causes;
        return pp_ask_causes(&r->history, &r->selection, word, arena, &room->causes, &r->error);
    }
    if (strcmp(question, "tools") == 0) {
        a->tools = &room->tools;
        return pp_ask_tools(&r->history, &r->selection, r->lower_mm, r->upper_mm,
                            isnan(r->share_given) ? TOOL_SHARE : r->share_given, arena,
                            &room->tools, &r->error);
    }
    if (strcmp(question, "list") == 0) {
        a->list = &room->list;
        return pp_ask_list(&r->history, arena, &room->list, &r->error);
    }
    a->check = &room->check;
    return pp_ask_check(&r->history, &r->memory, &room->check, &r->error);
}

static pp_status run_question(history_run *r)
{
    answers room;
    pp_history_answer a = {0};
    PP_TRY(pp_history_open(r->file, PP_HISTORY_READ, &r->history, &r->error));
    PP_TRY(ask(r, &room, &a));
    if (a.check &&
        (strcmp(a.check->integrity, "ok") != 0 || a.check->missing_count || a.check->differ_count))
        r->some_refused = true;
    if (r->common->json) return pp_history_json(&a, &r->text, &r->error);
    if (r->common->quiet) return PP_OK;
    return pp_history_words(&a, &r->text, &r->error);
}

/* ---- the page ---- */

/* What the history can't answer is left out of the page; anything else stops it. */
static pp_status or_left_out(history_run *r, pp_status status, const pp_error *why, bool *there)
{
    *there = status == PP_OK;
    if (*there || status == PP_EINPUT || status == PP_ENOTHING) return PP_OK;
    return pp_fail_at(&r->error, status, why->file, 0, 0, "%s", why->message);
}

static pp_status draw_charts(history_run *r, pp_history_page *page)
{
    pp_arena *arena = &r->memory.keep;
    size_t room = 0;
    while (pp_charted_figures[room]) room++;
    pp_chart_answer *charts = pp_arena_take(arena, room, sizeof *charts);
    if (!charts) return pp_fail_memory(&r->error);
    for (size_t i = 0; i < room; i++) {
        pp_error why = {0};
        bool there;
        pp_status status = pp_ask_chart(&r->history, &r->selection, pp_charted_figures[i], 0, arena,
                                        &charts[page->chart_count], &why);
        PP_TRY(or_left_out(r, status, &why, &there));
        page->chart_count += there;
    }
    page->charts = charts;
    return PP_OK;
}

static pp_status draw_shares(history_run *r, pp_history_page *page)
{
    static const char *const COUNTED[] = {"outside", "undersize", "oversize", "thin"};
    enum { ROOM = sizeof COUNTED / sizeof *COUNTED };
    pp_arena *arena = &r->memory.keep;
    pp_share_answer *shares = pp_arena_take(arena, ROOM, sizeof *shares);
    if (!shares) return pp_fail_memory(&r->error);
    for (int i = 0; i < ROOM; i++) {
        pp_error why = {0};
        bool there;
        pp_status status = pp_ask_share(&r->history, &r->selection, COUNTED[i], arena,
                                        &shares[page->share_count], &why);
        PP_TRY(or_left_out(r, status, &why, &there));
        page->share_count += there;
    }
    page->shares = shares;
    return PP_OK;
}

typedef struct page_answers {
    pp_capability_answer size, place;
    pp_tool_answer tools;
    pp_cause_answer causes;
} page_answers;

/* Held against the limits given, else against those of the latest plate. */
static pp_status ask_process(history_run *r, page_answers *room, pp_history_page *page)
{
    pp_arena *arena = &r->memory.keep;
    const pp_selection *s = &r->selection;
    pp_used_limits l;
    pp_error why = {0};
    bool there;
    PP_TRY(pp_ask_limits(&r->history, s, arena, &l, &r->error));
    bool own = r->lower || r->upper;
    double lower = own ? r->lower_mm : l.lower, upper = own ? r->upper_mm : l.upper;
    double limit = r->limit ? r->limit_mm : l.position;
    double share = isnan(r->share_given) ? TOOL_SHARE : r->share_given;
    page->several_limits = l.several && !(own && r->limit);
    PP_TRY(or_left_out(r,
                       pp_ask_capability(&r->history, s,
                                         &(pp_capability_question){"diameter", lower, upper, NAN},
                                         arena, &room->size, &why),
                       &why, &there));
    if (there) page->size = &room->size;
    PP_TRY(or_left_out(r,
                       pp_ask_capability(&r->history, s,
                                         &(pp_capability_question){"position", NAN, NAN, limit},
                                         arena, &room->place, &why),
                       &why, &there));
    if (there) page->place = &room->place;
    PP_TRY(or_left_out(r,
                       pp_ask_tools(&r->history, s, lower, upper, share, arena, &room->tools, &why),
                       &why, &there));
    if (there) page->tools = &room->tools;
    PP_TRY(or_left_out(r, pp_ask_causes(&r->history, s, NULL, arena, &room->causes, &why), &why,
                       &there));
    if (there && room->causes.count) page->causes = &room->causes;
    return PP_OK;
}

static pp_status write_tables(history_run *r, const pp_history_page *page, pp_folder *folder)
{
    for (const pp_history_table *t = pp_history_tables; t->file; t++) {
        pp_text csv = {0};
        if (!t->is_due(page)) continue;
        t->write(page, &csv);
        pp_status status = csv.failed
                               ? pp_fail_memory(&r->error)
                               : pp_folder_add(folder, t->file, csv.data, csv.length, &r->error);
        pp_text_free(&csv);
        PP_TRY(status);
    }
    return PP_OK;
}

static pp_status write_page(history_run *r, const pp_history_page *page, pp_folder *folder)
{
    pp_text html = {0};
    pp_status status = pp_history_page_write(page, &html, &r->error);
    if (status == PP_OK)
        status = pp_folder_open(folder, r->common->output, false, &r->memory.keep, &r->error);
    if (status == PP_OK)
        status = pp_folder_add(folder, "history.html", html.data, html.length, &r->error);
    if (status == PP_OK) status = write_tables(r, page, folder);
    if (status == PP_OK) status = pp_folder_commit(folder, &r->error);
    pp_text_free(&html);
    return status;
}

static pp_status run_page(history_run *r)
{
    pp_list_answer list;
    page_answers room;
    const char *slash = strrchr(r->file, '/');
    pp_history_page page = {.title = slash ? slash + 1 : r->file, .list = &list};
    pp_folder folder = {0};
    if (!r->common->output)
        return pp_fail(&r->error, PP_EINPUT, "a page needs a folder to go to; give -o DIR");
    PP_TRY(pp_history_open(r->file, PP_HISTORY_READ, &r->history, &r->error));
    PP_TRY(pp_ask_list(&r->history, &r->memory.keep, &list, &r->error));
    PP_TRY(draw_charts(r, &page));
    PP_TRY(draw_shares(r, &page));
    PP_TRY(ask_process(r, &room, &page));
    if (!page.chart_count && !page.share_count && !page.size && !page.place)
        return pp_fail_at(&r->error, PP_ENOTHING, r->file, 0, 0,
                          "has no figure of two plates that meet the conditions: nothing to draw");
    pp_status status = write_page(r, &page, &folder);
    if (status != PP_OK) pp_folder_abandon(&folder);
    return status;
}

/* ---- the command line ---- */

typedef struct question {
    const char *name;
    int least, most;   /* words behind the file */
    const char *takes; /* options of its own, blank between and around */
    pp_status (*run)(history_run *r);
} question;

#define PICKS " where since until "

static const question questions[] = {
    {"add", 1, PP_ARGUMENTS_MAX, " replace with-operator ", run_add},
    {"note", 1, 1, " machine date ", run_note},
    {"list", 0, 0, " ", run_question},
    {"chart", 1, 1, PICKS "base ", run_question},
    {"share", 1, 1, PICKS, run_question},
    {"capability", 1, 1, PICKS "lower upper limit ", run_question},
    {"trend", 1, 1, PICKS "days ", run_question},
    {"causes", 0, 1, PICKS, run_question},
    {"tools", 0, 0, PICKS "lower upper share ", run_question},
    {"page", 0, 0, PICKS "lower upper limit share ", run_page},
    {"check", 0, 0, " ", run_question},
};
enum { QUESTIONS = sizeof questions / sizeof *questions };

static const question *find_question(const char *name)
{
    const char *names[QUESTIONS];
    for (int i = 0; i < QUESTIONS; i++) {
        names[i] = questions[i].name;
        if (strcmp(name, names[i]) == 0) return &questions[i];
    }
    pp_say(stderr,
           "plateproof: history has no question %s; did you mean '%s'? 'plateproof history --help' "
           "lists them\n",
           name, names[pp_nearest_find(name, QUESTIONS, names)]);
    return NULL;
}

static bool takes(const question *q, const char *option)
{
    char word[32];
    snprintf(word, sizeof word, " %s ", option);
    return strstr(q->takes, word) != NULL;
}

static bool check_options(const question *q, const pp_own_option *own)
{
    for (; own->name; own++) {
        if (!*own->value || takes(q, own->name)) continue;
        pp_say(stderr,
               "plateproof: history %s has no use for --%s; see 'plateproof history --help'\n",
               q->name, own->name);
        return false;
    }
    return true;
}

static bool read_number(const char *option, const char *text, double *value)
{
    *value = NAN;
    if (!text || pp_number_read(text, strlen(text), '.', value)) return true;
    pp_say(stderr, "plateproof: --%s %s is no number; write it in mm with a decimal point\n",
           option, text);
    return false;
}

static bool read_options(history_run *r)
{
    double base;
    if (!read_number("lower", r->lower, &r->lower_mm) ||
        !read_number("upper", r->upper, &r->upper_mm) ||
        !read_number("limit", r->limit, &r->limit_mm) ||
        !read_number("share", r->share, &r->share_given) || !read_number("base", r->base, &base))
        return false;
    if (r->base && !(base >= 2 && base <= 1e6 && floor(base) == base)) {
        pp_say(stderr, "plateproof: --base %s is no number of plates from 2 up\n", r->base);
        return false;
    }
    r->base_plates = r->base ? (size_t)base : 0;
    r->selection.since = r->since, r->selection.until = r->until;
    for (int i = 0; r->where[i]; i++)
        if (pp_selection_add(&r->selection, r->where[i], &r->error) != PP_OK) {
            pp_exit_error(&r->error);
            return false;
        }
    return true;
}

static int run(history_run *r, const question *q)
{
    pp_status done = q->run(r);
    pp_history_close(&r->history);
    int status = done == PP_OK && r->text.length ? pp_write_out(r->text.data, r->text.length) : 0;
    if (done != PP_OK) return pp_exit_error(&r->error);
    if (status) return status;
    if (r->some_unreadable) return PP_EXIT_SYSTEM;
    if (!r->some_refused) return PP_EXIT_CONFORMS;
    return strcmp(q->name, "check") == 0 ? PP_EXIT_FAILS : PP_EXIT_USAGE;
}

int pp_cmd_history(int argc, char **argv)
{
    static const history_run nothing;
    history_run r = nothing;
    const pp_own_option own[] = {
        {"replace", false, &r.replace}, {"with-operator", false, &r.with_operator},
        {"machine", true, &r.machine},  {"date", true, &r.date},
        {"where", true, &r.where[0]},   {"since", true, &r.since},
        {"until", true, &r.until},      {"base", true, &r.base},
        {"days", false, &r.days},       {"lower", true, &r.lower},
        {"upper", true, &r.upper},      {"limit", true, &r.limit},
        {"share", true, &r.share},      {NULL, false, NULL}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 2, -1, &help, &line, &status) || line.done)
        return status;
    const question *q = find_question(line.words[0]);
    if (!q) return PP_EXIT_USAGE;
    r.common = &line.common;
    r.question = q->name, r.file = line.words[1];
    r.count = line.count - 2, r.words = line.words + 2;
    if (r.count < q->least || r.count > q->most) {
        pp_say(stderr, "plateproof: history %s %s; see 'plateproof history --help'\n", q->name,
               r.count < q->least ? "needs more to work on" : "got more than it takes");
        return PP_EXIT_USAGE;
    }
    if (line.common.output && q->run != run_page) {
        pp_say(stderr, "plateproof: history %s writes no folder; -o belongs to history page\n",
               q->name);
        return PP_EXIT_USAGE;
    }
    if (!check_options(q, own) || !read_options(&r)) return PP_EXIT_USAGE;
    status = run(&r, q);
    pp_text_free(&r.text);
    pp_memory_free(&r.memory);
    return status;
}
