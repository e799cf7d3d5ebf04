/* The pictures of a bundle's page, as SVG. */
#ifndef PP_REPORT_BUNDLE_BUNDLE_PICTURES_H
#define PP_REPORT_BUNDLE_BUNDLE_PICTURES_H

#include "answer/bundle_results.h"
#include "base/text.h"

enum { PP_BUNDLE_STATES = 5, PP_BUNDLE_SHADES = 4 };

/* How a tube is shown: 0 not judged, 1 passes straight, 2 by bending, 3 not proven, 4 does not
 * pass. */
int pp_bundle_state(const pp_bundle_results *results, size_t tube);
const char *pp_bundle_state_words(int state);

/* The most that a tube which passes straight has to spare beyond what is wanted; 0: none does. */
double pp_bundle_most_to_spare(const pp_bundle_results *results);

/* The tubes seen from the front, by state, those that pass straight shaded in PP_BUNDLE_SHADES
 * equal steps of what they have to spare; the rim of tubes that some plate has no hole for is
 * broken. */
void pp_bundle_map(pp_text *out, const pp_bundle_results *results);

/* One tube unrolled: its discs as bars over s, seen from above (x) and from the side (y), the
 * straight cylinder, and the bent tube. Returns how much the crosswise scale exceeds the lengthwise
 * one. */
double pp_bundle_tube_strips(pp_text *out, const pp_bundle_results *results, size_t tube);

/* How many tubes have at least a margin: as set out, and as judged. errors: PP_ENOMEM */
pp_status pp_bundle_margins(pp_text *out, const pp_bundle_results *results, pp_memory *memory,
                            pp_error *error);

/* A bar for a share 0..1. */
void pp_bundle_bar(pp_text *out, double share);

#endif
