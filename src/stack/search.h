/* Which order, faces and turns of the layers leave the least to close. */
#ifndef PP_STACK_SEARCH_H
#define PP_STACK_SEARCH_H

#include "stack/choices.h"
#include "stack/evaluate.h"

typedef struct pp_stack_search_request {
    pp_stack_freedom freedom;
    pp_stack_aim aim;
    const pp_stack_ground *ground; /* of the study */
    const pp_place_list *pins;     /* NULL on a table */
    const pp_stack_question *question;
    const pp_stack_holes_at *places;
    const pp_stack_state *listed; /* reckoned with every hole */
    const pp_stack_arranged *listed_arranged;
    int threads;
} pp_stack_search_request;

typedef struct pp_stack_search {
    pp_stack_arranged found; /* of every hole; as listed where nothing does better */
    bool better;             /* than as listed */
    size_t evaluated;        /* arrangements reckoned through */
    bool all_tried;
} pp_stack_search;

/* Few arrangements are all reckoned through; of many, those on lists of promising ones. The three
 * best, and the first of the list by load, are reckoned again on the study's mesh, the winner with
 * every hole. memory->keep holds the meshes.
 * errors   PP_EINPUT, PP_ENOTHING, PP_ENUMERIC as the study of one arrangement (study.h);
 *          PP_ENOMEM */
pp_status pp_stack_search_run(const pp_stack_search_request *request, pp_memory *memory,
                              pp_stack_search *result, pp_error *error);

#endif
