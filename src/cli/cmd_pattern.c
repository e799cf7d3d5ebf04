/* plateproof pattern: a nominal hole list. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/text.h"
#include "cli/commands.h"
#include "cli/new_file.h"
#include "cli/options.h"
#include "cli/pattern_from.h"
#include "cli/say.h"
#include "holes/pattern.h"
#include "input/job/value.h"

static const pp_command_help help = {
    "plateproof pattern --layout LAYOUT --pitch P (--diameter D | --width W --height H) ...\n"
    "       plateproof pattern --from MEASURED",
    "Fills a field with holes and writes them as a nominal hole list (CSV: hole, x, y), to "
    "standard\n"
    "output or to a new file.\n"
    "\n"
    "  --layout LAYOUT      30 or 60 (triangular), 90 or 45 (square); 30 and 90 have rows of\n"
    "                       neighbours along x, 60 and 45 are the same turned\n"
    "  --pitch P            between neighbours\n"
    "  --diameter D         of a round field\n"
    "  --width W            of a rectangular field, along x\n"
    "  --height H           of a rectangular field, along y\n"
    "  --hole D             of the holes: no part of one comes nearer to the field's edge than\n"
    "  --margin M           this, nor into a lane (both 0: only the centres must fit)\n"
    "  --start hole|cell    what lies at the centre: a hole, or the middle of three or four "
    "(hole)\n"
    "  --centre X,Y         of the pattern (0,0)\n"
    "  --lanes-x Y:W,...    lanes along x left free: their middle and their width\n"
    "  --lanes-y X:W,...    lanes along y left free\n"
    "  --units mm|inch      of bare numbers, and of the list (mm)\n"
    "  --from MEASURED      instead: the regular pattern of a measured list, with a column "
    "derived.\n"
    "                       It proves how regular the holes are, not that they are as drawn:\n"
    "                       positions judged by it are at best not proven\n"
    "\n"
    "Holes are named by row and column, R001C001 being at the lower left: rows are counted along "
    "y,\n"
    "columns along x, as the report counts them.\n"
    "\n"
    "Example: 1 in tubes on 1-1/4 in, two passes, 12 mm clear of the rim\n"
    "  plateproof pattern --layout 30 --pitch 31.75 --diameter 1500 --hole 25.7 --margin 12 \\\n"
    "      --lanes-x 0:40 -o nominal.csv\n",
    .output = "FILE",
    .json = true,
};

typedef struct pattern_request {
    const char *layout, *pitch, *diameter, *width, *height, *hole, *margin, *start, *centre,
        *lanes_x, *lanes_y, *units, *from;
} pattern_request;

enum { LANES_MAX = 64 };

typedef struct pattern_reading {
    pp_length_unit units;
    pp_pattern_options options;
    pp_lane lanes[LANES_MAX];
    pp_error *error;
} pattern_reading;

static const pp_range any = {-INFINITY, INFINITY, false, false};
static const pp_range above_zero = {0, INFINITY, true, false};
static const pp_range from_zero = {0, INFINITY, false, false};

static pp_status read_part(const pattern_reading *r, const char *name, const char *text,
                           size_t length, pp_range range, double *mm)
{
    pp_value_place place = {NULL, 0, name};
    pp_value_kind kind = {.quantity = PP_LENGTH, .bare = r->units, .range = range};
    return pp_value_read(&place, text, length, &kind, mm, NULL, r->error);
}

static pp_status read_length(const pattern_reading *r, const char *name, const char *text,
                             pp_range range, double *mm)
{
    return text ? read_part(r, name, text, strlen(text), range, mm) : PP_OK;
}

static pp_status read_layout(const char *text, pp_layout *layout, pp_error *error)
{
    static const char *const names[] = {"30", "60", "90", "45"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strcmp(text, names[i]) != 0) continue;
        *layout = (pp_layout)i;
        return PP_OK;
    }
    return pp_fail(error, PP_EINPUT,
                   "--layout %s is not among its choices; write 30, 60 (triangular), 90 or 45 "
                   "(square)",
                   text);
}

static pp_status read_word(const char *name, const char *text, const char *first,
                           const char *second, bool *is_second, pp_error *error)
{
    if (!text || strcasecmp(text, first) == 0) return PP_OK;
    if (strcasecmp(text, second) != 0)
        return pp_fail(error, PP_EINPUT, "%s %s is not among its choices; write %s or %s", name,
                       text, first, second);
    *is_second = true;
    return PP_OK;
}

static pp_status read_centre(pattern_reading *r, const char *text)
{
    if (!text) return PP_OK;
    const char *comma = strchr(text, ',');
    if (!comma)
        return pp_fail(r->error, PP_EINPUT, "--centre %s is not two numbers; write X,Y", text);
    PP_TRY(read_part(r, "--centre", text, (size_t)(comma - text), any, &r->options.centre_x));
    return read_part(r, "--centre", comma + 1, strlen(comma + 1), any, &r->options.centre_y);
}

/* "0:40, 400:40" */
static pp_status read_lanes(pattern_reading *r, const char *name, const char *text, bool vertical)
{
    while (text) {
        const char *comma = strchr(text, ',');
        size_t length = comma ? (size_t)(comma - text) : strlen(text);
        const char *colon = memchr(text, ':', length);
        if (!colon)
            return pp_fail(r->error, PP_EINPUT, "%s %.*s is not a lane; write PLACE:WIDTH", name,
                           (int)length, text);
        if (r->options.lane_count == LANES_MAX)
            return pp_fail(r->error, PP_EINPUT, "%s gives more than %d lanes; give fewer", name,
                           LANES_MAX);
        pp_lane *lane = &r->lanes[r->options.lane_count++];
        lane->vertical = vertical;
        size_t place = (size_t)(colon - text);
        PP_TRY(read_part(r, name, text, place, any, &lane->place));
        PP_TRY(read_part(r, name, colon + 1, length - place - 1, above_zero, &lane->width));
        text = comma ? comma + 1 : NULL;
    }
    return PP_OK;
}

static pp_status read_field(pattern_reading *r, const pattern_request *q)
{
    pp_pattern_options *o = &r->options;
    bool rectangle = q->width || q->height;
    if (!q->diameter == !rectangle)
        return pp_fail(r->error, PP_EINPUT,
                       "the field is not given once; give --diameter, or --width and --height");
    if (rectangle && (!q->width || !q->height))
        return pp_fail(r->error, PP_EINPUT,
                       "the rectangular field has one side only; give --width and --height");
    o->round = !rectangle;
    PP_TRY(read_length(r, "--diameter", q->diameter, above_zero, &o->diameter));
    PP_TRY(read_length(r, "--width", q->width, above_zero, &o->width));
    return read_length(r, "--height", q->height, above_zero, &o->height);
}

static pp_status read_request(pattern_reading *r, const pattern_request *q)
{
    pp_pattern_options *o = &r->options;
    bool inch = false;
    if (!q->layout || !q->pitch)
        return pp_fail(r->error, PP_EINPUT, "%s is missing; see 'plateproof pattern --help'",
                       q->layout ? "--pitch" : "--layout");
    PP_TRY(read_word("--units", q->units, "mm", "inch", &inch, r->error));
    r->units = inch ? PP_INCH : PP_MM;
    PP_TRY(read_layout(q->layout, &o->layout, r->error));
    PP_TRY(read_word("--start", q->start, "hole", "cell", &o->on_cell, r->error));
    PP_TRY(read_length(r, "--pitch", q->pitch, above_zero, &o->pitch));
    PP_TRY(read_length(r, "--hole", q->hole, from_zero, &o->hole));
    PP_TRY(read_length(r, "--margin", q->margin, from_zero, &o->margin));
    PP_TRY(read_field(r, q));
    PP_TRY(read_centre(r, q->centre));
    PP_TRY(read_lanes(r, "--lanes-x", q->lanes_x, false));
    PP_TRY(read_lanes(r, "--lanes-y", q->lanes_y, true));
    o->lanes = r->lanes;
    return PP_OK;
}

/* The list as JSON: {"count", "rows", "columns", "holes": [[name, x, y], ...]}, mm. */
static void add_json(const pp_pattern *p, pp_text *text)
{
    pp_text_print(text, "{\"count\": %zu, \"rows\": %u, \"columns\": %u, \"holes\": [", p->count,
                  p->row_count, p->column_count);
    for (size_t i = 0; i < p->count; i++) {
        char name[PP_PATTERN_NAME_MAX];
        pp_pattern_name(p, i, name);
        pp_text_print(text, "%s\n[\"%s\", ", i ? "," : "", name);
        pp_text_add_number(text, p->x[i]);
        pp_text_add(text, ", ");
        pp_text_add_number(text, p->y[i]);
        pp_text_add(text, "]");
    }
    pp_text_add(text, "\n]}\n");
}

static int write_pattern(const pp_pattern *p, const pattern_reading *r,
                         const pp_common_options *common)
{
    pp_text text = {0};
    if (common->json)
        add_json(p, &text);
    else
        pp_pattern_csv(p, r->units, &text);
    int status = pp_list_write(&text, common);
    if (status == PP_EXIT_CONFORMS && common->output && !common->json && !common->quiet)
        pp_say(stdout, "%s: %zu holes in %u rows\n", common->output, p->count, p->row_count);
    return status;
}

/* The pattern of a measured list has its layout, its pitch and its field from there. */
static int from_measured(const pattern_request *q, const pp_common_options *common)
{
    const char *const own[] = {q->layout, q->pitch, q->diameter, q->width,   q->height, q->hole,
                               q->margin, q->start, q->centre,   q->lanes_x, q->lanes_y};
    pp_error error = {0};
    bool inch = false, other = false;
    for (size_t i = 0; i < sizeof own / sizeof *own; i++) other = other || own[i];
    if (other)
        pp_fail(&error, PP_EINPUT,
                "--from takes layout, pitch and field from the measured list; leave the other "
                "options out (all but --units)");
    else if (read_word("--units", q->units, "mm", "inch", &inch, &error) == PP_OK)
        return pp_pattern_from(q->from, inch ? PP_INCH : PP_MM, common);
    return pp_exit_error(&error);
}

int pp_cmd_pattern(int argc, char **argv)
{
    pattern_request q = {0};
    const pp_own_option own[] = {{"layout", true, &q.layout},     {"pitch", true, &q.pitch},
                                 {"diameter", true, &q.diameter}, {"width", true, &q.width},
                                 {"height", true, &q.height},     {"hole", true, &q.hole},
                                 {"margin", true, &q.margin},     {"start", true, &q.start},
                                 {"centre", true, &q.centre},     {"lanes-x", true, &q.lanes_x},
                                 {"lanes-y", true, &q.lanes_y},   {"units", true, &q.units},
                                 {"from", true, &q.from},         {0}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 0, 0, &help, &line, &status) || line.done) return status;
    if (q.from) return from_measured(&q, &line.common);
    pp_memory memory = {0};
    pp_error error = {0};
    pattern_reading r = {.error = &error};
    pp_pattern pattern;
    pp_status result = read_request(&r, &q);
    if (result == PP_OK) result = pp_pattern_make(&r.options, &memory, &pattern, &error);
    status = result == PP_OK ? write_pattern(&pattern, &r, &line.common) : pp_exit_error(&error);
    pp_memory_free(&memory);
    return status;
}
