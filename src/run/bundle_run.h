/* One run of a bundle, from a set to its results: study, judgement, inputs. */
#ifndef PP_RUN_BUNDLE_RUN_H
#define PP_RUN_BUNDLE_RUN_H

#include "answer/bundle_results.h"

/* Everything in *results lives in memory->keep.
 * errors  as pp_bundle_study; PP_EIO where an input cannot be read again */
pp_status pp_bundle_run(const pp_set *set, const pp_bundle_options *options, pp_memory *memory,
                        pp_bundle_results *results, pp_error *error);

#endif
