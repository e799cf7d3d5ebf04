/* What is judged, one row each: every list, sentence and loop over characteristics goes by this
 * table. A characteristic more is one name here, one row in characteristics.c, and the functions
 * that the row names (DEVELOPERS.md has the recipe). */
#ifndef PP_RULES_CHARACTERISTICS_H
#define PP_RULES_CHARACTERISTICS_H

#include <stdbool.h>
#include <stddef.h>

#include "plateproof/error.h"

/* In the order of every report. */
typedef enum pp_characteristic {
    PP_FLATNESS,
    PP_STRAIGHTEDGE,
    PP_PARALLELISM,
    PP_POSITION,
    PP_PATTERN_POSITION,
    PP_DIAMETER,
    PP_LIGAMENT,
    PP_EDGE,
    PP_DRIFT,
    PP_PITCH_ERROR,    /* of two holes some pitches apart */
    PP_OTHER_LIGAMENT, /* metal from a hole of kind other to its neighbours */
    PP_CHECK,          /* attribute check */
    PP_EXTRA_HOLE,
    PP_DOUBLY_CLAIMED,
    PP_MISDRILLED,
    PP_CHARACTERISTICS /* how many */
} pp_characteristic;

/* What its findings are about, and with it what `subject` and `other` of a finding are. */
typedef enum pp_subject_kind {
    PP_OF_PLATE,        /* the plate as a whole: neither */
    PP_OF_STRAIGHTEDGE, /* index of the length */
    PP_OF_HOLE,         /* nominal index */
    PP_OF_FACE,         /* a hole on one face: nominal index */
    PP_OF_TWO_HOLES,    /* on one face: nominal indices */
    PP_OF_CHECK,        /* row of checks - 1; hole: nominal index */
    PP_OF_BORE,         /* bore index */
    PP_OF_TWO_BORES     /* bore indices */
} pp_subject_kind;

struct pp_judgement;
struct pp_finding;
struct pp_judging;
struct pp_finding_maker;

/* mm, or the unit of a check; NaN: no such limit. */
typedef double pp_limit_of(const struct pp_judgement *judgement, const struct pp_finding *finding);

typedef struct pp_characteristic_row {
    const char *name;  /* "position": the contract's word, in results.json and the CSVs */
    const char *said;  /* what people read; NULL: name */
    const char *wrong; /* all there is to say of one that has no value; NULL: value against limit */
    const char *in, *out; /* words of the classes: "in", "out" */
    const char *coarse;   /* in the caution about coarse measurement: "a position"; NULL: none */
    pp_subject_kind subject;
    bool by_index; /* one finding for each bore, or ligament, in their order */
    /* of these the standard uncertainty of one, by the bore or ligament */
    double (*u)(const struct pp_judgement *judgement, size_t item);
    bool mistake; /* a hole that should not be: listed before what is out of tolerance */
    size_t rule;  /* offset in pp_judgement of its count rule; 0: has none */
    /* of pairs, which need no code of their own beyond the measure and the limit: the offset of
     * their pp_pair_list in pp_measures (0: not such a one), and its object in results.json */
    size_t pairs;
    const char *key;
    size_t limit; /* of pairs: offset of its pp_limit in pp_limits */
    /* of two holes: they are wrong by the distance they lie at, either way; else by the metal that
     * is missing between them. The work list names the hole that did more of it. */
    bool by_distance;
    /* limits of one finding; NULL: none on that side. `standard`: of a count rule */
    pp_limit_of *lower, *upper, *standard;
    /* width of the tolerance for the caution; NULL: each finding's upper limit */
    double (*tolerance)(const struct pp_judging *judging);
    /* there is something to judge, whether or not a limit was given */
    bool (*has_data)(const struct pp_judging *judging);
    /* PP_EINPUT: the guarded decision lacks an uncertainty; NULL: needs none */
    pp_status (*require)(const struct pp_judging *judging, pp_characteristic which,
                         pp_error *error);
    pp_status (*find)(struct pp_finding_maker *maker, pp_characteristic which, pp_error *error);
    /* writes to its own results only: rows are folded side by side */
    pp_status (*fold)(struct pp_judging *judging, pp_characteristic which, pp_error *error);
} pp_characteristic_row;

/* What people read for a word of the contract: "edge ligament" for "edge". What is no
 * characteristic's name is given back. */
const char *pp_characteristic_said(const char *name);

/* The row of a characteristic, by its pp_characteristic. */
const pp_characteristic_row *pp_characteristic_of(int which);

/* Of the plate itself, not of its holes. */
bool pp_is_of_plate(int which);

#endif
