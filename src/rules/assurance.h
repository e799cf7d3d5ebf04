/* Beside the verdict of a count rule ("96 % within the standard limit, the rest within the outer
 * one"): how probable it is that the part truly conforms, and what a sample proves of the whole
 * plate. Statements, never verdicts. Theory: docs/theory/holes.md. */
#ifndef PP_RULES_ASSURANCE_H
#define PP_RULES_ASSURANCE_H

#include "rules/judging.h"

/* Margins of one item inside its limits, in standard uncertainties (negative: outside). */
typedef struct pp_margins {
    double standard, outer; /* on the side that has a remainder */
    double other;           /* the limit of the opposite side; INFINITY if there is none */
} pp_margins;

/* Probability that every item is within its outer limits and at most `allowed` are beyond the
 * standard one.
 *
 * Each item's error is Gaussian: a part common to all items, with `common_share` of the variance,
 * and a part of its own. Given the common part the number beyond the standard limit has a
 * Poisson-binomial distribution, taken exactly; the common part is integrated out by the trapezium
 * rule, halved until the result moves by less than 1e-9 (closed form when all is common).
 * PP_ENUMERIC: not reached, or too much work. */
pp_status pp_conformance_probability(size_t count, const pp_margins *items, size_t allowed,
                                     double common_share, pp_arena *scratch, double *probability,
                                     pp_error *error);

/* Largest number outside in a plate of `population` holes that a random sample of `sample` with
 * `outside` of them outside does not rule out at `confidence` (one-sided, hypergeometric). */
size_t pp_sample_bound(size_t population, size_t sample, size_t outside, double confidence);

/* Holes still to be measured, none of them outside, until at most `allowed` of the population are
 * proven outside at `confidence`; false when no number is enough. */
bool pp_sample_more(size_t population, size_t sample, size_t outside, size_t allowed,
                    double confidence, size_t *more);

/* What the sample says of the whole plate's holes, and of its pairs; nothing with coverage =
 * every-hole. Of pairs: one falls short of the ligament L only if one of its holes leaves less than
 * L/2 (pp_half_ligament); with at most K such holes in the plate at `confidence`, and n neighbours
 * at most, no more than n K pairs do. Assumes holes drawn at random. */
void pp_sample_state_positions(const pp_judging *j, pp_assurance *out);
void pp_sample_state_diameters(const pp_judging *j, pp_assurance *out);
void pp_sample_state_ligaments(const pp_judging *j, pp_assurance *out);

/* The assurances of a judgement. errors: PP_ENUMERIC: a probability does not settle; PP_ENOMEM */
pp_status pp_assure_diameters(const pp_judging *j, pp_assurance *out, pp_error *error);
pp_status pp_assure_ligaments(const pp_judging *j, pp_assurance *out, pp_error *error);

/* A random list of holes to measure: `count` different tube holes, each such set equally likely, in
 * nominal order (indices into `out`). The list depends on the seed, the count and the list of tube
 * holes only: selection sampling (Knuth, TAOCP 2, 3.4.2, algorithm S) with the SplitMix64 generator
 * (Steele, Lea, Flood, OOPSLA 2014). `skip` (may be NULL): holes left out. Returns how many were
 * drawn: less than `count` only when there are no more. */
size_t pp_sample_draw(uint64_t seed, const pp_nominal *nominal, const bool *skip, size_t count,
                      uint32_t *out);

#endif
