/* A report that stands beside its job: what its results.json says, and whether the files it was
 * made from are still the same. */
#ifndef PP_SERVE_STANDING_H
#define PP_SERVE_STANDING_H

#include <jansson.h>
#include <stdbool.h>
#include <sys/stat.h>

enum { PP_RESULTS_MAX = 256 * 1024 * 1024 };

/* The JSON value that an open file holds, NULL where it is none; the handle is given away. */
json_t *pp_standing_load(int handle);

/* results.json of the report folder at `report` (below `root`); NULL when there is none, or it is
 * none of ours. */
json_t *pp_standing_read(int root, const char *report);

/* What the list of plates shows of it:
 *   {"command", "verdict", "basis", "flatness": {"value", "limit", "verdict"}, "holes": {"nominal",
 *   "measured"}, "earlier_rounds" (readings of them), "tubes" (of a bundle): {"count", "straight",
 *   "bending", "stuck"}, "findings", "holddown": ready or not}; what the results do not have is
 * left out. Of a hold-down study (a plan, no acceptance) the verdict is "hold-down ready" or not.
 */
json_t *pp_standing_facts(const json_t *results);

/* Where an input of results.json stands below the root: the job file, and the rest as written in
 * it. `top`: absolute path of the root. Path "" for what does not stand below. Returns
 *   [{"role", "file" as written, "path", "sha256"}] */
json_t *pp_standing_inputs(const json_t *results, const char *top, const char *job);

/* Names of the files in the report folder at `report` (below `root`), in no order. */
json_t *pp_standing_files(int root, const char *report);

/* SHA-256 of the file at `path` below the root, as 64 digits; false where it can't be read. */
bool pp_standing_hash(int root, const char *path, char text[65]);

/* By the clock: names of inputs that were written after `when` or are gone. */
json_t *pp_standing_newer(int root, const json_t *inputs, struct timespec when);

/* By every byte (FIPS 180-4): [{"role", "file", "path", "state"}], state "same", "changed", "gone"
 * or "outside" (the folder; not looked at). */
json_t *pp_standing_compare(int root, const json_t *inputs);

#endif
