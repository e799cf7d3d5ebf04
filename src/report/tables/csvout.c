#include "report/tables/csvout.h"

#include <math.h>
#include <string.h>

#include "answer/machine_names.h"
#include "answer/work_words.h"
#include "base/number.h"
#include "report/tables/csv_table.h"

enum {
    NUMBER_ROOM = PP_NUMBER_TEXT_MAX + 1, /* a number and its comma */
    WORDS_ROOM = 64                       /* face, class, yes or no, commas, line feed */
};

/* ---- fields: written straight into room reserved for the whole row ---- */

static size_t field_room(const char *text) { return 2 * strlen(text) + 4; }

static bool is_formula_start(char c)
{
    return c == '=' || c == '+' || c == '-' || c == '@' || c == '\t' || c == '\r';
}

static char *put_quoted(char *at, const char *text)
{
    *at++ = '"';
    if (is_formula_start(text[0])) *at++ = '\'';
    for (; *text; text++) {
        if (*text == '"') *at++ = '"';
        *at++ = *text;
    }
    *at++ = '"';
    return at;
}

/* A text and the comma behind it. */
static char *put_text(char *at, const char *text)
{
    char *to = at;
    bool plain = !is_formula_start(text[0]);
    for (const char *c = text; plain && *c; c++) {
        plain = *c != '"' && *c != ',' && *c != '\n' && *c != '\r';
        *to++ = *c;
    }
    if (!plain) to = put_quoted(at, text);
    *to++ = ',';
    return to;
}

static char *put_number(char *at, double value)
{
    at += pp_number_write(at, value);
    *at++ = ',';
    return at;
}

/* Numbers as the arguments of put_numbers. */
#define NUMBERS(...)                                                                               \
    sizeof((const double[]){__VA_ARGS__}) / sizeof(double), (const double[]) { __VA_ARGS__ }

static char *put_numbers(char *at, size_t count, const double *values)
{
    for (size_t i = 0; i < count; i++) at = put_number(at, values[i]);
    return at;
}

/* Both ends; of a single reading they are one number, worked out once. */
static char *put_range(char *at, double low, double high)
{
    char *behind = put_number(at, low);
    if (low != high) return put_number(behind, high);
    size_t length = (size_t)(behind - at);
    memcpy(behind, at, length);
    return behind + length;
}

static char *put_count(char *at, size_t value) { return put_number(at, (double)value); }

/* The last comma of a row becomes its end. */
static void end_row(pp_text *text, char *at)
{
    at[-1] = '\n';
    text->length = (size_t)(at - text->data);
}

static char *begin_row(pp_text *text, size_t room)
{
    return pp_text_reserve(text, room) ? text->data + text->length : NULL;
}

/* ---- rows ---- */

static const char *position_class(const pp_finding *finding)
{
    return finding ? pp_verdict_class((pp_verdict)finding->verdict) : "";
}

/* Against all its limits. */
static const char *proof(const pp_finding *finding)
{
    return finding ? pp_verdict_class(pp_proof_verdict(finding)) : "";
}

static char *put_nominal(char *at, const pp_measures *measures, size_t row)
{
    uint32_t hole = measures->bores[row].hole;
    pp_offset off = pp_bore_offset(measures, row);
    at = put_numbers(at, NUMBERS(hole == PP_NONE ? NAN : measures->nominal->x[hole],
                                 hole == PP_NONE ? NAN : measures->nominal->y[hole], off.dx));
    return put_number(at, off.dy);
}

static double drill_order(const pp_measures *measures, const pp_bore *bore)
{
    return measures->drill_order && bore->hole != PP_NONE ? measures->drill_order[bore->hole] : NAN;
}

/* Where the machine was sent, if not to the nominal place. */
static char *put_commanded(char *at, const pp_nominal *nominal, const pp_bore *bore)
{
    bool own = nominal->commanded_x && bore->hole != PP_NONE;
    at = put_number(at, own ? nominal->commanded_x[bore->hole] : NAN);
    return put_number(at, own ? nominal->commanded_y[bore->hole] : NAN);
}

static void hole_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_measures *measures = results->measures;
    const pp_judgement *judgement = results->judgement;
    const pp_bore *bore = &measures->bores[row];
    const char *name = pp_bore_name(measures, row);
    bool extra = bore->hole == PP_NONE;
    const pp_finding *position = extra ? NULL : pp_finding_of(judgement, PP_POSITION, row);
    const pp_finding *diameter = extra ? NULL : pp_finding_of(judgement, PP_DIAMETER, row);
    char *at = begin_row(text, field_room(name) + 16 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, name);
    at = put_text(at, pp_named_face(bore->face));
    at = put_number(at, bore->at.x);
    at = put_number(at, bore->at.y);
    at = put_nominal(at, measures, row);
    at = put_number(at, pp_position_of(measures, row));
    at = put_number(at, position ? pp_finding_upper(judgement, position) : NAN);
    at = put_text(at, position_class(position));
    at = put_range(at, bore->diameter_min, bore->diameter_max);
    at = put_text(at, diameter ? pp_class_words(PP_DIAMETER, diameter->class_) : "");
    at = put_numbers(at, NUMBERS(bore->smallest_ligament, pp_position_error_of(measures, row).u,
                                 pp_position_error_of(measures, row).bias,
                                 drill_order(measures, bore)));
    at = put_commanded(at, measures->nominal, bore);
    at = put_text(at, proof(diameter));
    end_row(text, at);
}

static void ligament_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_measures *measures = results->measures;
    const pp_ligament *ligament = &measures->ligaments[row];
    const char *a = measures->nominal->name[ligament->a], *b = measures->nominal->name[ligament->b];
    const pp_finding *finding = pp_finding_of(results->judgement, PP_LIGAMENT, row);
    char *at = begin_row(text, field_room(a) + field_room(b) + NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, a);
    at = put_text(at, b);
    at = put_text(at, pp_named_face(ligament->face));
    at = put_number(at, ligament->value);
    at = put_text(at, finding ? pp_class_words(PP_LIGAMENT, finding->class_) : "");
    at = put_text(at, proof(finding));
    end_row(text, at);
}

/* Judged ones: there are three for each hole, which nobody wants who gives no limit. */
static void pitch_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_judgement *j = results->judgement;
    const pp_finding *finding = &j->findings[j->first[PP_PITCH_ERROR] + row];
    const char *const *name = results->measures->nominal->name;
    const char *a = name[finding->subject], *b = name[pp_finding_other(j, finding)];
    char *at = begin_row(text, field_room(a) + field_room(b) + 3 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, a);
    at = put_text(at, b);
    at = put_text(at, pp_named_face(finding->face));
    at = put_numbers(at, NUMBERS(finding->value, pp_named_uncertainty(pp_finding_u(j, finding)),
                                 pp_finding_upper(j, finding)));
    at = put_text(at, pp_verdict_class((pp_verdict)finding->verdict));
    end_row(text, at);
}

/* High and low areas of the surface, then the gaps beneath the plate. */
static void area_row(const pp_results *results, size_t row, pp_text *text)
{
    size_t flat = results->flatness ? results->flatness->area_count : 0;
    const pp_area *area =
        row < flat ? &results->flatness->areas[row] : &results->holddown->areas[row - flat];
    char *at = begin_row(text, 9 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, pp_named_area_side(area->side));
    at = put_numbers(at, NUMBERS(area->area, area->peak, area->x, area->y, area->xmin, area->ymin,
                                 area->xmax, area->ymax));
    at = put_count(at, area->holes);
    end_row(text, at);
}

static void holddown_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_nominal *nominal = &results->files->nominal;
    const pp_hold *hold = &results->holddown->holes[row];
    const pp_holddown_judgement *judged = results->holddown_judgement;
    char *at = begin_row(text, field_room(nominal->name[row]) + 11 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, nominal->name[row]);
    at = put_numbers(at, NUMBERS(nominal->x[row], nominal->y[row], hold->gap, hold->gap_under_foot,
                                 hold->force_to_close, hold->tilt, hold->shift));
    at = put_text(at, pp_named_hold_class((pp_hold_class)judged->class_[row]));
    at = put_text(at, judged->uncertain[row] ? "yes" : "no");
    const pp_mesh_check *mesh = &results->holddown->mesh_check;
    at = put_number(at, mesh->gap_u ? mesh->gap_u[row] : NAN);
    at = put_number(at, mesh->force_u ? mesh->force_u[row] : NAN);
    const double *after = results->holddown->gap_after;
    const pp_turned_over *turned = &results->holddown->turned_over;
    at = put_number(at, after ? after[row] : NAN);
    at = put_number(at, turned->gap_after ? turned->gap_after[row]
                        : turned->gaps    ? turned->gaps[row].under_foot
                                          : NAN);
    end_row(text, at);
}

static const char *step_word(pp_setup_action action)
{
    switch (action) {
    case PP_STEP_TIGHTEN:
        return "tighten";
    case PP_STEP_DRILL:
        return "drill";
    case PP_STEP_LIFT:
        return "lift";
    case PP_STEP_PUT_BACK:
        return "put back";
    case PP_STEP_RELEASE:
        return "release";
    }
    return "";
}

/* What is done to a clamp has its place and force, what is drilled its holes and the worst gap. */
static void setup_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_holddown *study = results->holddown;
    const pp_setup_step *step = &study->setups.steps[row];
    const pp_drill_setup *setup = &study->setups.setups[step->setup];
    bool drills = step->action == PP_STEP_DRILL;
    const pp_clamp *clamp = drills ? NULL : &study->plan[step->clamp];
    bool named = drills && setup->worst_hole != PP_NONE;
    const char *worst = named ? results->files->nominal.name[setup->worst_hole] : "";
    char *at = begin_row(text, field_room(worst) + 12 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_count(at, row + 1);
    at = put_count(at, (size_t)step->setup + 1);
    at = put_text(at, step_word(step->action));
    at = put_numbers(at, NUMBERS(drills ? NAN : (double)step->clamp + 1, drills ? NAN : clamp->x,
                                 drills ? NAN : clamp->y, drills ? NAN : clamp->force,
                                 drills ? (double)setup->hole_count : NAN,
                                 drills ? study->foot_force : NAN, named ? setup->worst_gap : NAN));
    at = put_text(at, worst);
    at = put_number(at, drills ? setup->largest_support_force : NAN);
    at = put_number(at, drills ? setup->travel : NAN);
    at = put_text(at,
                  drills ? pp_verdict_class(results->holddown_judgement->setups[step->setup]) : "");
    end_row(text, at);
}

/* The set-up and the hole of a place in the drilling order. */
static size_t find_drilled(const pp_setup_list *list, size_t place, uint32_t *hole)
{
    size_t k = 0;
    while (place >= list->setups[k].hole_count) place -= list->setups[k++].hole_count;
    *hole = list->setups[k].holes[place];
    return k;
}

/* A nominal list in drilling order, with what a measured one has of it. */
static void drilling_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_nominal *nominal = &results->files->nominal;
    uint32_t hole;
    size_t setup = find_drilled(&results->holddown->setups, row, &hole);
    bool other = nominal->kind[hole] != PP_TUBE_HOLE;
    char *at = begin_row(text, field_room(nominal->name[hole]) + 9 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, nominal->name[hole]);
    at = put_number(at, nominal->x[hole]);
    at = put_number(at, nominal->y[hole]);
    at = put_text(at, other ? "other" : "tube");
    at = put_numbers(at, NUMBERS(other && nominal->diameter ? nominal->diameter[hole] : NAN,
                                 other && nominal->under ? nominal->under[hole] : NAN,
                                 other && nominal->over ? nominal->over[hole] : NAN));
    at = put_count(at, row + 1);
    at = put_count(at, setup + 1);
    end_row(text, at);
}

static size_t count_drilled(const pp_setup_list *list)
{
    size_t holes = 0;
    for (size_t k = 0; k < list->count; k++) holes += list->setups[k].hole_count;
    return holes;
}

/* A list of pins, with what each carries. */
static void pin_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_fixture_pin *pin = &results->holddown->fixture[row];
    const char *nearest = pin->nearest == PP_NONE ? "" : results->files->nominal.name[pin->nearest];
    char *at = begin_row(text, field_room(nearest) + 9 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_count(at, pin->number);
    at = put_numbers(at, NUMBERS(pin->x, pin->y, pin->height, pin->load_solid, pin->load_drilled,
                                 pin->pressure, isinf(pin->metal) ? NAN : pin->metal));
    at = put_text(at, nearest);
    at = put_text(at, results->holddown_judgement->pins[row].worst == PP_DOES_NOT_CONFORM ? "out"
                                                                                          : "in");
    end_row(text, at);
}

/* Grid places outside the outline have no row. */
static void map_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_map *map = &results->flatness->map;
    if (isnan(map->height[row])) return;
    char *at = begin_row(text, 5 * NUMBER_ROOM);
    if (!at) return;
    size_t line = row / map->columns;
    at = put_numbers(at,
                     NUMBERS(map->x0 + map->dx * (double)(row % map->columns),
                             map->y0 + map->dy * (double)line, map->height[row],
                             map->deviation[row], results->gap_map ? results->gap_map[row] : NAN));
    end_row(text, at);
}

static void stack_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_nominal *nominal = &results->files->nominal;
    const pp_stack_hole *hole = &results->stack->holes[row];
    const pp_stack_judgement *judged = results->stack_judgement;
    char *at = begin_row(text, field_room(nominal->name[row]) + 9 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, nominal->name[row]);
    at = put_numbers(at, NUMBERS(nominal->x[row], nominal->y[row], hole->largest_gap,
                                 hole->largest_gap_under_foot));
    at = put_count(at, hole->interface + 1);
    at = put_numbers(
        at, NUMBERS(hole->force_to_close, hole->force_to_close_all, hole->tilt, hole->shift));
    at = put_text(at, pp_named_hold_class((pp_hold_class)judged->class_[row]));
    at = put_text(at, judged->uncertain[row] ? "yes" : "no");
    end_row(text, at);
}

/* Every interface of every hole, the lowest first. */
static void stack_gap_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_stack *stack = results->stack;
    size_t hole = row / stack->layer_count, k = row % stack->layer_count;
    const char *name = results->files->nominal.name[hole];
    const char *below = stack->interfaces[k].below ? stack->interfaces[k].below : "";
    const char *above = stack->interfaces[k].above;
    char *at = begin_row(text, field_room(name) + field_room(below) + field_room(above) +
                                   3 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, name);
    at = put_count(at, k + 1);
    at = put_text(at, below);
    at = put_text(at, above);
    at = put_number(at, stack->gap[row]);
    at = put_number(at, stack->gap_under_foot[row]);
    end_row(text, at);
}

static void stack_hole_row(const pp_results *results, size_t row, pp_text *text)
{
    const pp_drilled *drilled = results->drilled;
    const pp_drilled_row *hole = &drilled->rows[row];
    const char *name = results->files->nominal.name[hole->hole];
    const char *layer = results->job->layers[drilled->layer[hole->place]].name;
    char *at = begin_row(text, field_room(name) + field_room(layer) + 9 * NUMBER_ROOM + WORDS_ROOM);
    if (!at) return;
    at = put_text(at, name);
    at = put_text(at, layer);
    at = put_text(at, pp_named_face(hole->face));
    at = put_text(at, drilled->how[hole->place] == PP_LAYER_BETWEEN ? "between" : "measured");
    at = put_numbers(at, NUMBERS(hole->x, hole->y, hole->dx, hole->dy, hole->position, hole->u));
    at = put_text(at, pp_verdict_class((pp_verdict)results->drilled_judgement->row_verdict[row]));
    end_row(text, at);
}

/* The words of a row of the work list, each in a text of its own. */
typedef struct work_words {
    pp_text also, what, fault;
} work_words;

static const char *words_of(const pp_text *text) { return text->length ? text->data : ""; }

static work_words words_of_row(const pp_results *results, const pp_work_row *row)
{
    work_words w = {0};
    for (int i = 0; i < PP_TODO_ORDER; i++) {
        pp_todo todo = PP_TODO_SHOWN[i];
        if (todo == (pp_todo)row->todo || !(row->todos >> todo & 1)) continue;
        pp_text_print(&w.also, "%s%s", w.also.length ? "; " : "", pp_todo_words(todo));
    }
    pp_work_instruction(&w.what, results, row);
    pp_work_faults(&w.fault, results, row);
    return w;
}

static char *put_ream(char *at, const pp_ream *ream)
{
    bool any = !isnan(ream->target);
    at = put_number(at, ream->target);
    at = put_number(at, any ? ream->lower : NAN);
    return put_number(at, any ? ream->upper : NAN);
}

static void work_row(const pp_results *results, size_t number, pp_text *text)
{
    const pp_measures *m = results->measures;
    const pp_work_row *row = &results->work->rows[number];
    const char *name = pp_work_name(m, row), *reference = row->reference ? row->reference : "";
    pp_nominal_point place = pp_work_place(m, row);
    pp_work_offset off = {NAN, NAN, NAN, NAN};
    bool known = pp_work_offset_of(m, row, &off);
    work_words w = words_of_row(results, row);
    char *at = begin_row(text, field_room(name) + field_room(reference) +
                                   field_room(words_of(&w.what)) + field_room(words_of(&w.fault)) +
                                   field_room(words_of(&w.also)) + 12 * NUMBER_ROOM + WORDS_ROOM);
    if (at && !w.what.failed && !w.fault.failed && !w.also.failed) {
        at = put_count(at, number + 1);
        at = put_text(at, name);
        at =
            put_numbers(at, NUMBERS(row->hole == PP_NONE ? NAN : (double)m->row_label[row->hole],
                                    row->hole == PP_NONE ? NAN : (double)m->column_label[row->hole],
                                    place.x, place.y));
        at = put_text(at, pp_todo_words((pp_todo)row->todo));
        at = put_text(at, words_of(&w.also));
        at = put_ream(at, &row->ream);
        at = put_text(at, known ? pp_named_face(m->bores[row->bore].face) : "");
        at = put_numbers(at, NUMBERS(off.dx, off.dy, off.position, off.direction_deg));
        at = put_text(at, words_of(&w.fault));
        at = put_text(at, words_of(&w.what));
        at = put_text(at, reference);
        end_row(text, at);
    } else {
        text->failed = true;
    }
    pp_text_free(&w.also);
    pp_text_free(&w.what);
    pp_text_free(&w.fault);
}

/* ---- tables ---- */

/* Rows to run through: data rows, but for the map every place of the grid. */
static size_t bores(const pp_results *r) { return r->measures ? r->measures->bore_count : 0; }
static size_t webs(const pp_results *r) { return r->measures ? r->measures->ligament_count : 0; }
static size_t pitches(const pp_results *r)
{
    const size_t *first = r->judgement->first;
    return first[PP_PITCH_ERROR + 1] - first[PP_PITCH_ERROR];
}
static size_t areas(const pp_results *r)
{
    return (r->flatness ? r->flatness->area_count : 0) +
           (r->holddown ? r->holddown->area_count : 0);
}
static size_t held(const pp_results *r) { return r->holddown ? r->holddown->count : 0; }
static size_t steps(const pp_results *r)
{
    return r->holddown ? r->holddown->setups.step_count : 0;
}
static size_t pins(const pp_results *r)
{
    return r->holddown && r->holddown->fixture ? r->holddown->pin_count : 0;
}

static size_t drilled(const pp_results *r)
{
    return r->holddown ? count_drilled(&r->holddown->setups) : 0;
}
static size_t places(const pp_results *r)
{
    const pp_flatness *f = r->flatness;
    return f && f->surface_valid ? f->map.columns * f->map.rows : 0;
}
static size_t stacked(const pp_results *r) { return r->stack ? r->stack->count : 0; }
static size_t gaps(const pp_results *r)
{
    return r->stack ? r->stack->count * r->stack->layer_count : 0;
}
static size_t in_layers(const pp_results *r) { return r->drilled ? r->drilled->count : 0; }
static size_t to_do(const pp_results *r) { return r->work ? r->work->count : 0; }

/* A table of the folder is one row here, and its name in pp_csv. */
static const pp_outgoing_table tables[PP_CSV_COUNT] = {
    [PP_CSV_HOLES] = {"holes.csv",
                      "hole,face,x,y,nominal_x,nominal_y,dx,dy,position,position_limit,"
                      "position_class,diameter_min,diameter_max,diameter_class,"
                      "smallest_ligament,u_position,position_bias,order,commanded_x,commanded_y,"
                      "diameter_proof\n",
                      hole_row, bores},
    [PP_CSV_LIGAMENTS] = {"ligaments.csv", "hole_a,hole_b,face,ligament,class,proof\n",
                          ligament_row, webs},
    [PP_CSV_PITCH_ERRORS] = {"pitch_errors.csv", "hole_a,hole_b,face,pitch_error,u,limit,class\n",
                             pitch_row, pitches},
    [PP_CSV_AREAS] = {"areas.csv", "side,area,peak,x,y,xmin,ymin,xmax,ymax,holes\n", area_row,
                      areas},
    [PP_CSV_HOLDDOWN] = {"holddown.csv",
                         "hole,x,y,gap,gap_under_foot,force_to_close,tilt,shift,class,uncertain,"
                         "mesh_uncertainty,mesh_uncertainty_force,gap_after_plan,gap_turned\n",
                         holddown_row, held},
    [PP_CSV_SETUPS] = {"setups.csv",
                       "step,setup,action,clamp,x,y,force,holes,foot_force,worst_gap,worst_hole,"
                       "largest_support_force,travel,verdict\n",
                       setup_row, steps},
    [PP_CSV_DRILLING] = {"drilling.csv", "hole,x,y,kind,diameter,under,over,order,setup\n",
                         drilling_row, drilled},
    [PP_CSV_PINS] = {"pins.csv",
                     "pin,x,y,z,load_solid,load_drilled,pressure,metal,nearest_hole,verdict\n",
                     pin_row, pins},
    [PP_CSV_MAP] = {"map.csv", "x,y,height,deviation,gap\n", map_row, places},
    [PP_CSV_STACK] = {"stack.csv",
                      "hole,x,y,largest_gap,largest_gap_under_foot,interface,force_to_close,"
                      "force_to_close_all,tilt,shift,class,uncertain\n",
                      stack_row, stacked},
    [PP_CSV_STACK_GAPS] = {"stack_gaps.csv", "hole,interface,below,above,gap,gap_under_foot\n",
                           stack_gap_row, gaps},
    [PP_CSV_STACK_HOLES] = {"stack_holes.csv",
                            "hole,layer,face,how,x,y,dx,dy,position,u_position,position_class\n",
                            stack_hole_row, in_layers},
    [PP_CSV_WORK] = {"worklist.csv",
                     "number,hole,row,column,x,y,todo,also,ream_to,ream_lower,ream_upper,face,dx,"
                     "dy,position,direction_deg,fault,what_to_do,reference\n",
                     work_row, to_do},
};

const pp_outgoing_table *pp_outgoing_table_of(pp_csv which) { return &tables[which]; }

const char *pp_csv_file_name(pp_csv which) { return tables[which].file_name; }

size_t pp_csv_rows(const pp_results *results, pp_csv which)
{
    size_t rows = tables[which].count(results), empty = 0;
    for (size_t i = 0; which == PP_CSV_MAP && i < rows; i++)
        empty += isnan(results->flatness->map.height[i]) != 0;
    return rows - empty;
}
