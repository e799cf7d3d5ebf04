/* plateproof pins JOB: support pins under the webs between holes. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "answer/for_people.h"
#include "base/text.h"
#include "cli/commands.h"
#include "cli/new_file.h"
#include "cli/options.h"
#include "holes/measures.h"
#include "rules/holddown_rules.h"
#include "rules/limits.h"

static const pp_command_help help = {
    "plateproof pins JOB [--webs]",
    "Finds the webs between the nominal holes that take a support pin, where no drill meets it,\n"
    "and chooses pins among them (and in the undrilled rim and lanes). Writes them as a list of\n"
    "support pins (CSV: x, y) to standard output, or with -o to a new file.\n"
    "\n"
    "From the job: nominal, pitch and tube_diameter under [holes]; pin_diameter, pin_clearance\n"
    "(least metal between a pin and any hole) and pin_spacing under [support]. Without\n"
    "pin_spacing the pins are set closer until a flat plate sags at no hole by more than\n"
    "gap_limit under its weight, the foot's force and the drill's thrust ([plate], [foot],\n"
    "[holddown]), neither as a solid plate nor drilled. No pin is listed that a drill would meet:\n"
    "every distance is measured with the hole size in force (see plateproof rules).\n"
    "\n"
    "  --webs   every web that takes the pin: x, y, radius of the largest pin, holes around it\n"
    "\n"
    "Exit status: 0 pins found; 1 found, but holes sag beyond gap_limit; 2 the command line, the\n"
    "job file or the data are wrong; 3 a file could not be read or written.\n"
    "\n"
    "Example: plateproof pins plate.ini -o pins.csv\n",
    .output = "FILE",
    .json = true,
};

typedef struct pins_run {
    pp_memory memory;
    pp_error error;
    pp_job job;
    pp_nominal nominal;
    pp_pin_plan plan;
    pp_pin_judgement judged;
    double hole_nominal; /* NaN: not known */
    bool webs;
} pins_run;

static pp_status find_pins(pins_run *r, const char *path, int threads)
{
    double pitch;
    pp_limits limits;
    PP_TRY(pp_job_read(path, &r->memory, &r->job, &r->error));
    if (!r->job.holes.nominal.path)
        return pp_fail_at(&r->error, PP_ENOTHING, path, 0, 0,
                          "no pins to place: the job does not give nominal; add it under [holes]");
    PP_TRY(pp_nominal_read(&r->job, threads, &r->memory, &r->nominal, &r->error));
    PP_TRY(pp_pitch_find(r->job.holes.pitch, &r->nominal, threads, &r->memory, &pitch, &r->error));
    PP_TRY(pp_limits_resolve_unjudged(&r->job, pitch, &r->memory, &limits, &r->error));
    r->hole_nominal = limits.hole_nominal.value;
    pp_pin_request request = {.job_file = r->job.path,
                              .pins_file = r->job.support.file.path,
                              .softening_asked = r->job.holddown.ligament_softening,
                              .nominal = &r->nominal,
                              .pitch = pitch,
                              .hole_diameter = pp_limits_drilled(&limits, &r->job),
                              .pin_diameter = r->job.support.pin_diameter,
                              .clearance = r->job.support.pin_clearance,
                              .spacing = r->job.support.pin_spacing,
                              .outline = pp_job_outline(&r->job),
                              .plate = pp_plate_spec_of(&r->job),
                              .foot = pp_foot_of(&r->job),
                              .gap_limit = r->job.holddown.gap_limit,
                              .threads = threads};
    PP_TRY(pp_pins_find(&request, &r->memory, &r->plan, &r->error));
    r->judged = pp_pins_judge(&r->plan, r->job.holddown.gap_limit, r->job.support.pin_load_limit);
    if (!r->plan.chosen_valid && !r->webs)
        return pp_fail_at(&r->error, PP_ENOTHING, path, 0, 0,
                          "no pins can be chosen: give pin_diameter, and pin_spacing or what the "
                          "sag needs (outline, thickness, foot force, gap_limit); --webs lists "
                          "every web");
    return PP_OK;
}

/* ---- writing ---- */

static void add_length(pp_text *text, const pins_run *r, double mm)
{
    pp_text_add_number(text, round(mm / pp_unit_mm(r->job.units) * 1e6) / 1e6);
}

static void add_csv(const pins_run *r, pp_text *text)
{
    const char *unit = pp_unit_name(r->job.units);
    const pp_pin_plan *p = &r->plan;
    if (r->webs) {
        pp_text_print(text, "x_%s,y_%s,radius_%s,holes\n", unit, unit, unit);
        for (size_t k = 0; k < p->web_count; k++) {
            add_length(text, r, p->webs[k].x);
            pp_text_add(text, ",");
            add_length(text, r, p->webs[k].y);
            pp_text_add(text, ",");
            add_length(text, r, p->webs[k].radius);
            pp_text_print(text, ",%d\n", p->webs[k].holes);
        }
        return;
    }
    pp_text_print(text, "x_%s,y_%s\n", unit, unit);
    for (size_t k = 0; k < p->pin_count; k++) {
        add_length(text, r, p->pin_x[k]);
        pp_text_add(text, ",");
        add_length(text, r, p->pin_y[k]);
        pp_text_add(text, "\n");
    }
}

static json_t *number(double value) { return isnan(value) ? json_null() : json_real(value); }

static void add_json(const pins_run *r, pp_text *text)
{
    const pp_pin_plan *p = &r->plan;
    json_t *root = json_pack(
        "{s:I, s:I, s:o, s:b, s:o, s:o, s:b, s:o, s:o, s:o, s:o, s:o, s:o}", "webs",
        (json_int_t)p->web_count, "webs_too_narrow", (json_int_t)p->narrow_count, "widest_radius",
        number(p->widest_radius), "chosen", p->chosen_valid, "spacing", number(p->spacing), "sag",
        number(p->sag_valid ? p->sag : NAN), "sag_within", r->judged.sag == PP_CONFORMS,
        "largest_pin_force", number(p->largest_pin_force), "sag_solid",
        number(p->solid.valid ? p->solid.sag : NAN), "sag_drilled",
        number(p->drilled.valid ? p->drilled.sag : NAN), "largest_pin_force_solid",
        number(p->solid.valid ? p->solid.largest_force : NAN), "largest_pin_force_drilled",
        number(p->drilled.valid ? p->drilled.largest_force : NAN), "ligament_efficiency",
        number(p->efficiency));
    json_t *list = json_array();
    size_t count = r->webs ? p->web_count : p->pin_count;
    for (size_t k = 0; k < count; k++)
        json_array_append_new(list, r->webs ? json_pack("[f,f,f,i]", p->webs[k].x, p->webs[k].y,
                                                        p->webs[k].radius, p->webs[k].holes)
                                            : json_pack("[f,f]", p->pin_x[k], p->pin_y[k]));
    if (!root || json_object_set_new(root, r->webs ? "places" : "pins", list) != 0) {
        text->failed = true;
    } else {
        char *dump = json_dumps(root, JSON_COMPACT | JSON_REAL_PRECISION(15));
        if (dump)
            pp_text_add(text, dump);
        else
            text->failed = true;
        pp_text_add(text, "\n");
        free(dump);
    }
    json_decref(root);
}

/* A few lines for people, on standard error so that the list stays clean */
static void add_told(const pins_run *r, pp_text *text)
{
    const pp_pin_plan *p = &r->plan;
    pp_length_unit units = r->job.units;
    pp_text_print(text, "%zu webs take the pin, %zu are too narrow; the widest leaves a radius of ",
                  p->web_count, p->narrow_count);
    pp_people_length(text, units, p->widest_radius);
    pp_text_add(text, "\n");
    if (r->webs) return;
    pp_text_print(text, "%zu pins at a spacing of ", p->pin_count);
    pp_people_place(text, units, p->spacing);
    if (p->sag_valid) {
        pp_text_add(text, "; a flat plate sags under foot and thrust by at most ");
        pp_people_against(text, units, p->solid.sag, r->job.holddown.gap_limit);
        pp_text_add(text, " as a solid plate");
        if (p->drilled.valid) {
            pp_text_add(text, ", ");
            pp_people_against(text, units, p->drilled.sag, r->job.holddown.gap_limit);
            pp_text_print(text, " drilled (ligament efficiency %.2f)", p->efficiency);
        }
        pp_text_add(text, r->judged.sag == PP_CONFORMS ? "" : ", more than gap_limit");
    }
    pp_text_add(text, "\n");
    if (p->sag_valid && !p->drilled.valid)
        pp_text_print(text,
                      "drilled it sags more, and how much is not known: the tables of effective "
                      "constants hold for regular patterns with a ligament of 0.1 to 0.6 of the "
                      "pitch, and this one has %.2f\n",
                      p->efficiency);
    if (!pp_given(r->hole_nominal)) {
        pp_text_add(text, "holes are taken as large as the tube, ");
        pp_people_length(text, units, r->job.holes.tube_diameter);
        pp_text_add(text, ": give [rules] hole_nominal, a hole is larger than its tube\n");
    }
    if (r->judged.load == PP_DOES_NOT_CONFORM) {
        pp_text_add(text, "a pin carries up to ");
        pp_people_force(text, units, p->largest_pin_force);
        pp_text_add(text, ", more than pin_load_limit\n");
    }
    pp_text_add(text, PP_SAFETY_WORDS "\n");
}

static int write_pins(pins_run *r, const pp_common_options *common)
{
    pp_text text = {0};
    if (common->json)
        add_json(r, &text);
    else
        add_csv(r, &text);
    pp_text told = {0};
    add_told(r, &told);
    if (told.failed) text.failed = true; /* nothing is written then */
    int status = pp_list_write(&text, common);
    if (status == PP_EXIT_CONFORMS && !common->quiet) fputs(told.data, stderr);
    pp_text_free(&told);
    if (status != PP_EXIT_CONFORMS) return status;
    return r->judged.sag == PP_DOES_NOT_CONFORM ? PP_EXIT_FAILS : PP_EXIT_CONFORMS;
}

int pp_cmd_pins(int argc, char **argv)
{
    const char *webs = NULL;
    const pp_own_option own[] = {{"webs", false, &webs}, {0}};
    pp_command_line line;
    int status;
    if (!pp_options_parse(argc, argv, own, 1, 1, &help, &line, &status) || line.done) return status;
    pins_run r = {.webs = webs != NULL};
    pp_status result = find_pins(&r, line.words[0], line.common.threads);
    status = result == PP_OK ? write_pins(&r, &line.common) : pp_exit_error(&r.error);
    pp_memory_free(&r.memory);
    return status;
}
