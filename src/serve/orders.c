#include "serve/orders.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "serve/beneath.h"
#include "serve/fence.h"
#include "serve/standing.h"

static const char *text_of(const json_t *asked, const char *key)
{
    return json_string_value(json_object_get(asked, key));
}

static void add_word(pp_run_order *order, const char *word)
{
    pp_text_add_bytes(&order->words, word, strlen(word) + 1);
}

/* A place below the folder. */
static void add_place(pp_run_order *order, const char *path)
{
    pp_text_add(&order->words, "/");
    add_word(order, path);
}

/* -o and the folder of the order's kind. */
static pp_status add_output(pp_run_order *order)
{
    pp_arena arena = {0};
    const char *folder = pp_kind_folder(order->kind, order->subject, &arena);
    add_word(order, "-o");
    if (folder) add_place(order, folder);
    pp_arena_free(&arena);
    return folder ? PP_OK : PP_ENOMEM;
}

pp_run_order pp_order_live(const char *job)
{
    pp_run_order order = {.kind = &pp_kind_live, .steps = true};
    snprintf(order.subject, sizeof order.subject, "%s", job);
    add_word(&order, "holes");
    add_place(&order, job);
    if (add_output(&order) != PP_OK) order.words.failed = true;
    return order;
}

/* ---- what is there ---- */

/* A folder with ordinary files and folders in it and nothing else: no link leads on from it. */
static bool is_plain(int root, const char *folder)
{
    int handle = pp_beneath_open(root, folder, O_RDONLY | O_DIRECTORY | O_NOFOLLOW);
    DIR *opened = handle >= 0 ? fdopendir(handle) : NULL;
    bool plain = opened != NULL;
    if (!opened && handle >= 0) close(handle);
    for (struct dirent *entry; plain && (entry = readdir(opened));) {
        struct stat found;
        plain = fstatat(handle, entry->d_name, &found, AT_SYMLINK_NOFOLLOW) == 0 &&
                (S_ISREG(found.st_mode) || S_ISDIR(found.st_mode));
    }
    if (opened) closedir(opened);
    return plain;
}

/* The report of a job, as a word. */
static pp_status add_report(const pp_server *server, pp_run_order *order, const json_t *job,
                            pp_error *error)
{
    pp_arena arena = {0};
    const char *path = json_string_value(job);
    if (!path || !pp_beneath_proper(path))
        return pp_fail(error, PP_EINPUT, "that is no name of a plate; load the page again");
    const char *report = pp_kind_folder(&pp_kind_report, path, &arena);
    pp_status status = report ? PP_OK : pp_fail_memory(error);
    if (report && !is_plain(server->root, report))
        status = pp_fail(error, PP_EINPUT, "%.200s has no report yet; run it first", path);
    if (status == PP_OK) add_place(order, report);
    pp_arena_free(&arena);
    return status;
}

/* Where the result goes there is nothing, or a folder that is ours to replace: no link. */
static pp_status check_output(const pp_server *server, const pp_run_order *order, pp_error *error)
{
    pp_arena arena = {0};
    struct stat found;
    const char *folder = pp_kind_folder(order->kind, order->subject, &arena);
    int handle = folder ? pp_beneath_open(server->root, folder, O_PATH | O_NOFOLLOW) : -1;
    bool in_the_way =
        handle >= 0 ? fstat(handle, &found) == 0 && !S_ISDIR(found.st_mode) : errno != ENOENT;
    if (handle >= 0) close(handle);
    pp_status status = folder ? PP_OK : pp_fail_memory(error);
    if (folder && in_the_way)
        status = pp_fail(error, PP_EINPUT,
                         "%.200s, where the result would go, is a link or no folder of this one; "
                         "move it elsewhere",
                         folder);
    pp_arena_free(&arena);
    return status;
}

/* ---- the kinds ---- */

static pp_status make_report(pp_server *server, const json_t *asked, pp_run_order *order,
                             pp_error *error)
{
    (void)asked;
    pp_memory memory = {0};
    pp_job job;
    bool set = pp_plates_is_set(server->root, order->subject);
    pp_status status =
        set ? pp_fence_check_set(server->folder, server->root, order->subject, &memory, error)
            : pp_plates_job(server->folder, server->root, order->subject, &memory, &job, error);
    if (status == PP_OK && !set)
        status = pp_fence_check(server->folder, server->root, order->subject, &job, error);
    if (status == PP_OK) {
        add_word(order, set ? "bundle" : pp_fence_command(&job));
        add_place(order, order->subject);
        order->steps = !set;
    }
    pp_memory_free(&memory);
    return status;
}

/* Rounds are worked out from the files that the report was made from. */
static pp_status check_inputs(pp_server *server, const char *path, pp_error *error)
{
    pp_memory memory = {0};
    pp_job job;
    pp_status status = pp_plates_job(server->folder, server->root, path, &memory, &job, error);
    if (status == PP_OK) status = pp_fence_check(server->folder, server->root, path, &job, error);
    pp_memory_free(&memory);
    return status;
}

static pp_status add_rounds(pp_server *server, pp_run_order *order, const json_t *rounds,
                            pp_error *error)
{
    char word[64];
    PP_TRY(check_inputs(server, order->subject, error));
    const json_t *before = json_array_get(rounds, 0), *now = json_array_get(rounds, 1);
    json_int_t round[] = {json_integer_value(before), json_integer_value(now)};
    if (round[0] < 1 || round[1] <= round[0])
        return pp_fail(error, PP_EINPUT, "give two rounds, the earlier one first: 1 and 2");
    const char *slash = strrchr(order->subject, '/');
    char folder[PP_BENEATH_PATH_MAX];
    snprintf(folder, sizeof folder, "%.*s", slash ? (int)(slash - order->subject) : 0,
             order->subject);
    snprintf(word, sizeof word, "%lld,%lld", (long long)round[0], (long long)round[1]);
    add_word(order, "--rounds");
    add_word(order, word);
    add_word(order, "--inputs");
    add_place(order, folder);
    return PP_OK;
}

static pp_status make_compared(pp_server *server, const json_t *asked, pp_run_order *order,
                               pp_error *error)
{
    const json_t *rounds = json_object_get(asked, "rounds");
    add_word(order, "compare");
    if (!rounds) PP_TRY(add_report(server, order, json_object_get(asked, "with"), error));
    PP_TRY(add_report(server, order, json_object_get(asked, "job"), error));
    if (rounds) PP_TRY(add_rounds(server, order, rounds, error));
    return add_output(order);
}

static pp_status add_plates(pp_server *server, pp_run_order *order, const json_t *plates,
                            const char *before, pp_error *error)
{
    size_t index;
    json_t *plate;
    size_t count = json_array_size(plates);
    if (count == 0) return pp_fail(error, PP_EINPUT, "choose the plates first");
    if (count > PP_ORDER_PLATES_MAX)
        return pp_fail(error, PP_EINPUT, "choose at most %d plates at once", PP_ORDER_PLATES_MAX);
    json_array_foreach(plates, index, plate)
    {
        if (before) add_word(order, before);
        PP_TRY(add_report(server, order, plate, error));
    }
    return PP_OK;
}

static pp_status make_correction(pp_server *server, const json_t *asked, pp_run_order *order,
                                 pp_error *error)
{
    PP_TRY(check_inputs(server, order->subject, error));
    add_word(order, "correct");
    add_place(order, order->subject);
    PP_TRY(add_plates(server, order, json_object_get(asked, "from"), "--from", error));
    return add_output(order);
}

static pp_status check_history(const pp_server *server, const char *path, bool adding,
                               pp_error *error)
{
    struct stat found;
    size_t length = strlen(path);
    if (length <= strlen(PP_HISTORY_ENDING) ||
        strcmp(path + length - strlen(PP_HISTORY_ENDING), PP_HISTORY_ENDING) != 0)
        return pp_fail(error, PP_EINPUT, "a history is called NAME" PP_HISTORY_ENDING);
    int handle = pp_beneath_open(server->root, path, O_PATH | O_NOFOLLOW);
    int why = errno;
    bool ordinary = handle >= 0 && fstat(handle, &found) == 0 && S_ISREG(found.st_mode);
    if (handle >= 0) close(handle);
    if (ordinary || (adding && handle < 0 && why == ENOENT)) return PP_OK;
    return pp_fail(error, PP_EINPUT, "%.200s is no history in this folder; choose another", path);
}

static pp_status make_history(pp_server *server, const json_t *asked, pp_run_order *order,
                              pp_error *error)
{
    const json_t *plates = json_object_get(asked, "add");
    PP_TRY(check_history(server, order->subject, plates != NULL, error));
    add_word(order, "history");
    add_word(order, plates ? "add" : "page");
    add_place(order, order->subject);
    return plates ? add_plates(server, order, plates, NULL, error) : add_output(order);
}

pp_status pp_order_make(pp_server *server, const json_t *asked, pp_run_order *order,
                        pp_error *error)
{
    static const struct {
        const pp_run_kind *kind;
        pp_status (*make)(pp_server *server, const json_t *asked, pp_run_order *order,
                          pp_error *error);
    } MAKERS[] = {{&pp_kind_report, make_report},
                  {&pp_kind_compared, make_compared},
                  {&pp_kind_correction, make_correction},
                  {&pp_kind_history, make_history}};
    pp_run_order made = {.kind = pp_kind_find(text_of(asked, "kind"))};
    snprintf(made.subject, sizeof made.subject, "%s", text_of(asked, "job"));
    pp_status status = pp_fail(error, PP_EINPUT, "nothing of this kind can be run");
    for (size_t i = 0; i < sizeof MAKERS / sizeof *MAKERS; i++)
        if (made.kind == MAKERS[i].kind) status = MAKERS[i].make(server, asked, &made, error);
    if (status == PP_OK) status = check_output(server, &made, error);
    if (status == PP_ENOMEM || (status == PP_OK && made.words.failed))
        status = pp_fail_memory(error);
    if (status != PP_OK) pp_text_free(&made.words);
    if (status == PP_OK) *order = made;
    return status;
}
