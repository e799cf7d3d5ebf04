/* Findings: the one list that everything downstream lives on. Each measured value held against its
 * limits once, here and nowhere else; shares, section verdicts, the top verdict, exceptions and the
 * work list (work_list.h) are folds over it. */
#ifndef PP_RULES_FINDINGS_H
#define PP_RULES_FINDINGS_H

#include "flatness/flatness.h"
#include "holes/measures.h"
#include "rules/characteristics.h"
#include "rules/limits.h"

typedef enum pp_verdict {
    PP_NOT_JUDGED,
    PP_CONFORMS,
    PP_NOT_PROVEN,
    PP_DOES_NOT_CONFORM
} pp_verdict;

/* Plain value against limit, whatever the decision rule. */
typedef enum pp_class {
    PP_CLASS_NONE,
    PP_CLASS_IN,        /* in tolerance, standard */
    PP_CLASS_REMAINDER, /* within the outer limit: allowed to a share */
    PP_CLASS_UNDER,     /* undersize */
    PP_CLASS_OUT        /* oversize, thin, out */
} pp_class;

/* One value held against its limits. Kept small: a large plate has millions. The limits themselves:
 * pp_finding_lower, pp_finding_upper; what else it has: pp_finding_u, pp_finding_other. */
typedef struct pp_finding {
    double value;                /* mm; NaN where the characteristic has none */
    uint32_t subject;            /* index of what it is about: pp_subject_kind */
    uint8_t characteristic;      /* pp_characteristic */
    uint8_t face;                /* pp_face; of what has none: PP_ENTRY */
    uint8_t class_;              /* pp_class */
    uint8_t verdict : 4;         /* pp_verdict, of this item against its outermost limits */
    uint8_t proven_standard : 4; /* count rules: 1 proven within the standard limit, 2 proven
                                    outside it, 0 not proven */
} pp_finding;

/* What else a finding has. Findings of a bore or ligament each have it from the measures. */
typedef struct pp_finding_rest {
    float u;        /* standard uncertainty; NaN where not used */
    uint32_t other; /* second hole or bore of two, hole of a check; PP_NONE */
} pp_finding_rest;

/* A section of the verdict. */
typedef struct pp_section {
    pp_verdict verdict;
    size_t judged;     /* items; as many as failed, proven_in and open together */
    size_t not_proven; /* items not proven against some limit of theirs, failed ones included */
    size_t failed;     /* items proven outside their outermost limits */
    size_t proven_in, open; /* proven inside all their limits or in the remainder; neither */
    double u; /* standard uncertainty of the figure that reports give for it: the largest gap or
                 position, the smallest ligament, a diameter; NaN where none was given */
} pp_section;

typedef struct pp_count_rule { /* "96 % within the standard limit, the rest within the outer one" */
    size_t in, remainder, out; /* classes: holes or pairs, worst face */
    size_t under;              /* diameters only */
    size_t unclassed;          /* diameters only: plug gauges that leave the class open */
    pp_verdict share;          /* of the share alone; not judged when no limit was given */
    size_t remainder_allowed;
    size_t denominator;
} pp_count_rule;

/* The largest of the pairs' values, their mean; NaN without any. */
typedef struct pp_pair_fold {
    double largest, mean;
    uint32_t a, b;
    uint8_t face;
} pp_pair_fold;

/* Extension: conformance probability and sampling statements, beside the verdict. */
typedef struct pp_assurance {
    bool probability_valid;
    bool probability_unsettled; /* asked for, but its integral did not settle: a caution says so */
    double probability;         /* that the part truly conforms to the count rule */
    bool sample_valid;
    double share_outside_bound; /* upper bound at `confidence` of the share outside, of the whole
                                   plate */
    double confidence;
    size_t sample;  /* holes */
    size_t outside; /* of these: outside the (standard) limit, or not proven within; of a ligament
                       those that leave less than half of it to some neighbour */
    size_t more_needed; /* holes still to be measured, none bad, to prove the share; 0: proven */
    bool more_possible;
} pp_assurance;

/* A hole of kind other, worst face. */
typedef struct pp_other_verdict {
    uint32_t hole;
    double position, diameter; /* largest position; mean diameter; NaN where not measured */
    pp_verdict verdict;
} pp_other_verdict;

/* Why a section, or the whole (PP_CHARACTERISTICS), is at best not proven whatever its values. */
typedef struct pp_reservation {
    pp_characteristic which;
    const char *why;
} pp_reservation;

typedef struct pp_judgement {
    const pp_job *job; /* as given to pp_judge, and the others */
    const pp_limits *limits;
    const pp_measures *measures;
    const pp_hole_files *files;

    /* Findings of characteristic c are first[c] .. first[c + 1] - 1. Position, pattern position,
     * diameter and edge: none at all, or one for each bore below extra_first, in bore order;
     * ligament: none, or one for each of measures->ligaments. What has no value, does not count (a
     * plugged hole, the entry under ligament_face = exit) or has no limit is there as `not judged`.
     */
    size_t count;
    const pp_finding *findings; /* by characteristic, then nominal order, entry before exit */
    size_t first[PP_CHARACTERISTICS + 1];
    const pp_finding_rest *rest; /* of the findings that are not by index, in their order */
    size_t rest_first[PP_CHARACTERISTICS]; /* those of a characteristic begin here */
    pp_verdict verdict;
    const char *basis;         /* "985 of 1285 holes, entry face" */
    const char *decision_rule; /* in words */
    size_t judged_count, not_judged_count;
    const char *const *judged, *const *not_judged; /* contract words: "position" */
    size_t reservation_count;
    const pp_reservation *reservations; /* each stands in `cautions` too */
    size_t contradicting_count;
    const uint32_t
        *contradicting;   /* nominal holes whose repeat readings lie farther apart than their
                             uncertainty explains, and one alone could be outside; rising */
    size_t caution_count; /* sentences that stand beside the verdict */
    const char *const *cautions;
    size_t term_count;  /* the first of them: what the verdict hangs on, doubtful values of the job,
                           limits set by hand and reservations; they stand on the first page */
    size_t doubt_count; /* the first of those: they stand beside the headline */

    pp_section section[PP_CHARACTERISTICS]; /* by characteristic */
    pp_pair_fold pair[PP_CHARACTERISTICS];  /* of characteristics of pairs */
    size_t straightedge_count;
    const pp_section *straightedge; /* one per length */

    /* folds for the results, over tube holes that are not plugged */
    struct {
        double largest, mean;
        double largest_u; /* standard uncertainty of the largest */
        uint32_t largest_hole;
        uint8_t largest_face;
        size_t out, not_proven;
        pp_assurance assurance; /* of a sample only */
    } position_fold;
    struct {
        double largest;
        uint32_t largest_hole;
        double best_fit_dx, best_fit_dy, best_fit_angle_deg;
    } pattern_fold;
    struct {
        double smallest, largest, mean;
        size_t gauged; /* bores read by plug gauge alone */
        pp_count_rule rule;
        pp_assurance assurance;
    } diameter_fold;
    struct {
        double smallest, mean;
        uint32_t smallest_a, smallest_b;
        uint8_t smallest_face;
        pp_count_rule rule;
        pp_assurance assurance;
    } ligament_fold;
    struct {
        double smallest;
        uint32_t smallest_hole;
    } edge_fold;
    struct {
        double largest;
        uint32_t largest_hole;
        size_t out, not_proven;
    } drift_fold;

    size_t misdrilled_count;         /* on either face */
    size_t misdrilled_pairs;         /* a pair that is so on both faces counted once */
    const pp_close_pair *misdrilled; /* bore indices */
    size_t plugged_count;
    const uint32_t *plugged;
    size_t others_count; /* holes of kind other, nominal order */
    const pp_other_verdict *others;
    pp_section others_section;

    size_t exception_count; /* findings that do not conform or are not proven, worst first; then,
                               where a share is broken or not proven, those in the remainder */
    const uint32_t *exceptions; /* finding indices */
} pp_judgement;

/* The sizes that the measures are told of (gauges, closeness), from the limits. */
pp_hole_sizes pp_judge_sizes(const pp_limits *limits);

typedef struct pp_judge_request {
    const pp_job *job;
    const pp_limits *limits;
    const pp_flatness *flatness; /* NULL: no survey */
    const pp_measures *measures; /* NULL: no measured holes */
    const pp_hole_files *files;  /* NULL: no hole lists */
    int threads;
} pp_judge_request;

/* Judge everything there is. The judgement is in memory->keep and points to what was judged.
 * errors  PP_EINPUT: the guarded decision lacks an uncertainty; a check names an unknown hole. */
pp_status pp_judge(const pp_judge_request *request, pp_memory *memory, pp_judgement *judgement,
                   pp_error *error);

/* The outermost limits that the finding was held against, mm; NaN: none on that side. With maximum
 * material the upper limit of a position holds the bonus. */
double pp_finding_lower(const pp_judgement *judgement, const pp_finding *finding);
double pp_finding_upper(const pp_judgement *judgement, const pp_finding *finding);
/* The standard limit that all but the remainder must keep: of a diameter the upper, of a ligament
 * the lower one; NaN of anything else. */
double pp_finding_standard(const pp_judgement *judgement, const pp_finding *finding);
/* Standard uncertainty of the value; NaN where not used. */
float pp_finding_u(const pp_judgement *judgement, const pp_finding *finding);
/* The second hole or bore of two, the hole of a check; PP_NONE. */
uint32_t pp_finding_other(const pp_judgement *judgement, const pp_finding *finding);
/* How far beyond its limits the value lies, mm; negative inside; 0 where it has none. */
double pp_finding_excess(const pp_judgement *judgement, const pp_finding *finding);
/* The list of a characteristic of pairs, and its limit; NULL: no such characteristic. */
const pp_pair_list *pp_pair_list_of(const pp_measures *measures, int which);
const pp_limit *pp_pair_limit(const pp_judgement *judgement, int which);
/* The count rule that a characteristic is judged by; NULL: it has none. */
const pp_count_rule *pp_count_rule_of(const pp_judgement *judgement, int which);
typedef enum pp_check_fault { PP_CHECK_BELOW, PP_CHECK_ABOVE, PP_CHECK_REJECTED } pp_check_fault;
/* What a check that fails fails for: its value against the bounds of its row, else the inspector's
 * word. */
pp_check_fault pp_check_fault_of(const pp_check_row *row);
/* What is proven of a finding against all its limits: in, in the remainder too; out of the
 * outermost; or neither. */
pp_verdict pp_proof_verdict(const pp_finding *finding);
/* What a list of exceptions says of a finding: its own verdict, or where that conforms and it is
 * listed for its share, what the share makes of it. */
pp_verdict pp_exception_verdict(const pp_judgement *judgement, const pp_finding *finding);
/* The finding of that characteristic (position, pattern position, diameter, edge) of a bore, or of
 * a ligament by its index; NULL where there is none. */
const pp_finding *pp_finding_of(const pp_judgement *judgement, pp_characteristic which,
                                size_t index);

/* In every output that plans a force. */
#define PP_SAFETY_WORDS                                                                            \
    "Local safety rules and, where required, a licensed engineer take precedence."

const char *pp_verdict_words(pp_verdict verdict); /* "does not conform" */
/* "in", "out", "not proven", as the tables have it; "" where it is not judged */
const char *pp_verdict_class(pp_verdict verdict);
const char *pp_characteristic_words(pp_characteristic which);  /* "position", in machine files */
const char *pp_characteristic_people(pp_characteristic which); /* "edge ligament", for people */
/* "in remainder", of a ligament "standard" and "thin"; "" for PP_CLASS_NONE */
const char *pp_class_words(pp_characteristic which, pp_class class_);

#endif
