#include "input/job/job_stack.h"

#include <stdlib.h>
#include <string.h>

#include "base/nearest.h"
#include "base/text.h"

static const double TURN_TOLERANCE = 1e-9; /* degrees */
static const double FULL_TURN = 360;

/* The part of a comma list that begins at *at; moves *at behind it, to NULL after the last. */
static const char *next_part(const char **at, size_t *length)
{
    const char *part = *at, *comma = strchr(part, ',');
    *length = comma ? (size_t)(comma - part) : strlen(part);
    *at = comma ? comma + 1 : NULL;
    while (*length && strchr(" \t", *part)) part++, (*length)--;
    while (*length && strchr(" \t", part[*length - 1])) (*length)--;
    return part;
}

static void fill_layer(const pp_job *job, pp_layer *layer)
{
    if (!pp_layer_key_line(layer, "laid")) layer->laid = job->survey.laid;
    if (!layer->three_points.path) layer->three_points = job->survey.three_points;
    if (!pp_given(layer->survey_angle_deg)) layer->survey_angle_deg = job->survey.angle_deg;
    if (!pp_given(layer->uncertainty)) layer->uncertainty = job->survey.uncertainty;
    if (!pp_given(layer->thickness)) layer->thickness = job->plate.thickness;
    if (!pp_given(layer->thickness_variation))
        layer->thickness_variation = job->plate.thickness_variation;
}

/* Order -------------------------------------------------------------------------------- */

static size_t find_layer(const pp_job *job, const char *name, size_t length)
{
    size_t i = 0;
    while (i < job->layer_count &&
           (strncmp(job->layers[i].name, name, length) != 0 || job->layers[i].name[length] != '\0'))
        i++;
    return i;
}

static pp_status unknown_layer(const pp_job *job, const char *name, size_t length, long line,
                               pp_error *error)
{
    const char *names[PP_LAYERS_MAX];
    char written[64] = "";
    memcpy(written, name, length < sizeof written ? length : sizeof written - 1);
    for (size_t i = 0; i < job->layer_count; i++) names[i] = job->layers[i].name;
    return pp_fail_at(
        error, PP_EINPUT, job->path, line, 0,
        "[stack] order names a layer \"%s\" that has no section; did you mean \"%s\"? "
        "else add [layer %s]",
        written, names[pp_nearest_find(written, job->layer_count, names)], written);
}

static pp_status read_order(const pp_job *job, size_t *order, pp_error *error)
{
    long line = pp_job_key_line(job, "stack", "order");
    const char *at = job->stack.order_text;
    size_t count = 0;
    bool seen[PP_LAYERS_MAX] = {false};
    while (at) {
        size_t length, i;
        const char *name = next_part(&at, &length);
        if (!length)
            return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                              "a layer is missing beside a comma of [stack] order; add it");
        i = find_layer(job, name, length);
        if (i == job->layer_count) return unknown_layer(job, name, length, line, error);
        if (seen[i])
            return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                              "[stack] order names layer %s twice; keep one", job->layers[i].name);
        seen[i] = true;
        order[count++] = i;
    }
    for (size_t i = 0; i < job->layer_count; i++)
        if (!seen[i])
            return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                              "[stack] order leaves out layer %s; name it, or take its section out",
                              job->layers[i].name);
    return PP_OK;
}

/* What the search may change ------------------------------------------------------------ */

static pp_status read_search(pp_job *job, pp_error *error)
{
    const char *at = job->stack.search_text;
    bool none = !at;
    while (at) {
        size_t length;
        const char *word = next_part(&at, &length);
        if (pp_same_word(word, length, "order"))
            job->stack.search_order = true;
        else if (pp_same_word(word, length, "face"))
            job->stack.search_face = true;
        else if (pp_same_word(word, length, "turn"))
            job->stack.search_turn = true;
        else if (pp_same_word(word, length, "none"))
            none = true;
        else
            return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "stack", "search"),
                              0,
                              "[stack] search = \"%s\": \"%.*s\" can't be searched; write none, or "
                              "any of order, face, turn with commas between",
                              job->stack.search_text, (int)length, word);
    }
    if (none && (job->stack.search_order || job->stack.search_face || job->stack.search_turn))
        return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "stack", "search"), 0,
                          "[stack] search is none and something else at once; keep one");
    return PP_OK;
}

/* Degrees that bring the outline back onto itself: 0 for any (a disc). */
static double turn_step(const pp_job *job)
{
    if (job->plate.outline != PP_OUTLINE_RECTANGLE) return 0;
    return job->plate.width == job->plate.height ? 90 : 180;
}

static pp_status read_turns(const pp_job *job, pp_layer *layer, pp_arena *keep, pp_error *error)
{
    double *turns, step = turn_step(job);
    size_t count = 0;
    PP_TAKE(turns, keep, layer->turns.count);
    for (size_t i = 0; i < layer->turns.count; i++) {
        double turn = fmod(layer->turns.values[i] + FULL_TURN, FULL_TURN);
        double off = step > 0 ? fabs(remainder(turn, step)) : 0;
        if (off > TURN_TOLERANCE)
            return pp_fail_at(error, PP_EINPUT, job->path, pp_layer_key_line(layer, "turns"), 0,
                              "layer %s can't be turned by %g deg: a rectangle %g by %g mm lies on "
                              "itself again after %g deg only; give turns that do",
                              layer->name, layer->turns.values[i], job->plate.width,
                              job->plate.height, step);
        size_t k = 0;
        while (k < count && fabs(turns[k] - turn) > TURN_TOLERANCE) k++;
        if (k == count) turns[count++] = turn;
    }
    layer->turns = (pp_job_list){count, turns};
    return PP_OK;
}

static pp_status read_place(const pp_job *job, pp_layer *layer, size_t listed, pp_error *error)
{
    const char *text = layer->place_text;
    long line = pp_layer_key_line(layer, "place");
    if (!text) return PP_OK;
    char *end;
    long number = strtol(text, &end, 10);
    if (pp_same_word(text, strlen(text), "bottom"))
        number = 1;
    else if (pp_same_word(text, strlen(text), "top"))
        number = (long)job->layer_count;
    else if (*end || number < 1 || number > (long)job->layer_count)
        return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                          "place = \"%s\" of layer %s is no place of this stack; write bottom, top "
                          "or a number from 1 to %zu, from the bottom",
                          text, layer->name, job->layer_count);
    layer->place = (size_t)number;
    if (layer->place != listed)
        return pp_fail_at(error, PP_EINPUT, job->path, line, 0,
                          "layer %s must lie at place %zu from the bottom, but the order as listed "
                          "puts it at %zu; make place and [stack] order agree",
                          layer->name, layer->place, listed);
    return PP_OK;
}

/* Checks -------------------------------------------------------------------------------- */

static pp_status check_layer(const pp_job *job, const pp_layer *layer, pp_error *error)
{
    if (layer->survey.path && layer->laid == PP_LAID_ON_THREE_POINTS && !layer->three_points.path)
        return pp_fail_at(error, PP_EINPUT, job->path, pp_layer_key_line(layer, "laid"), 0,
                          "layer %s lay on three points; give three_points = FILE, here or under "
                          "[survey]",
                          layer->name);
    if (layer->underside.path && !layer->survey.path)
        return pp_fail_at(error, PP_EINPUT, job->path, layer->underside.line, 0,
                          "layer %s has a survey of its underside but none of its top; give "
                          "survey = FILE",
                          layer->name);
    if (!layer->survey.path && (layer->turns.count > 1 || layer->face == PP_FACE_EITHER))
        return pp_fail_at(error, PP_EINPUT, job->path, layer->line, 0,
                          "layer %s is not surveyed, so nothing tells which way round or up it "
                          "should lie; give its survey, or leave out turns and face",
                          layer->name);
    if (layer->thickness_variation >= layer->thickness)
        return pp_fail_at(error, PP_EINPUT, job->path,
                          pp_layer_key_line(layer, "thickness_variation"), 0,
                          "the thickness_variation of layer %s is as large as its thickness; check "
                          "both",
                          layer->name);
    return PP_OK;
}

/* Layers are laid turned and face down, so the outline must lie on itself again. */
static pp_status check_outline(const pp_job *job, pp_error *error)
{
    if (job->plate.outline <= PP_OUTLINE_RECTANGLE) return PP_OK;
    return pp_fail_at(
        error, PP_EINPUT, job->path, pp_job_key_line(job, "plate", "outline"), 0,
        "a stack is reckoned of discs or rectangles, as they are drilled: give outline = disc or "
        "rectangle as it is before the cut, or study each layer by itself with plateproof "
        "holddown");
}

static pp_status check_count(const pp_job *job, pp_error *error)
{
    if (job->layer_count < PP_LAYERS_MIN)
        return pp_fail_at(error, PP_EINPUT, job->path, job->layers[0].line, 0,
                          "the stack has one layer, %s; add a [layer NAME] for each other, or use "
                          "[survey] file and plateproof holddown for a single plate",
                          job->layers[0].name);
    if (job->layer_count > PP_LAYERS_MAX)
        return pp_fail_at(error, PP_EINPUT, job->path, job->layers[PP_LAYERS_MAX].line, 0,
                          "the stack has %zu layers; up to %d can be reckoned together",
                          job->layer_count, PP_LAYERS_MAX);
    for (size_t i = 0; i < job->layer_count; i++)
        if (job->layers[i].survey.path || job->layers[i].measured.path) return PP_OK;
    return pp_fail_at(error, PP_EINPUT, job->path, job->layers[0].line, 0,
                      "no layer of the stack has a survey or a list of measured holes; give "
                      "survey = FILE (before drilling) or measured = FILE (after)");
}

pp_status pp_job_settle_stack(pp_job *job, pp_layer *layers, pp_memory *memory, pp_error *error)
{
    job->layers = layers;
    PP_TRY(read_search(job, error));
    if (job->layer_count == 0) {
        if (!job->stack.order_text) return PP_OK;
        return pp_fail_at(error, PP_EINPUT, job->path, pp_job_key_line(job, "stack", "order"), 0,
                          "[stack] order names layers, but there is no section of one; add [layer "
                          "NAME] for each");
    }
    PP_TRY(check_count(job, error));
    PP_TRY(check_outline(job, error));
    size_t *order;
    PP_TAKE(order, &memory->keep, job->layer_count);
    for (size_t i = 0; i < job->layer_count; i++) order[i] = i;
    if (job->stack.order_text) PP_TRY(read_order(job, order, error));
    job->stack.order = order;
    for (size_t k = 0; k < job->layer_count; k++) {
        pp_layer *layer = &layers[order[k]];
        fill_layer(job, layer);
        PP_TRY(read_turns(job, layer, &memory->keep, error));
        PP_TRY(read_place(job, layer, k + 1, error));
        PP_TRY(check_layer(job, layer, error));
    }
    return PP_OK;
}
