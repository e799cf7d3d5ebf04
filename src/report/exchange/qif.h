/* results.qif: the judged characteristics in the quality information framework (QIF 3.0, ISO
 * 23952), for quality systems.
 *
 * Flatness, position and diameter of each hole and face, and ligaments (distance between), each
 * with its tolerance, value, combined standard uncertainty and status: PASS, FAIL, INDETERMINATE
 * (not proven), NOT_ANALYZED. Lengths in mm. What was given no limit is left out. Limits of a count
 * rule
 * ("96 % within, the rest within the outer limit") cannot be said in QIF: the tolerance is the
 * outer limit, and the description says so. The identifiers depend on the inputs only.
 */
#ifndef PP_REPORT_EXCHANGE_QIF_H
#define PP_REPORT_EXCHANGE_QIF_H

#include "answer/results.h"
#include "base/text.h"

/* An item takes some 460 bytes. With more items than this, only those that fail or are not proven
 * are listed, and the worst of each characteristic; the document says so. */
enum { PP_QIF_ITEMS_MAX = 50000 };

/* Is there something to put in it? */
bool pp_qif_has_content(const pp_results *results);

/* errors: PP_ENOMEM */
pp_status pp_qif_write(const pp_results *results, pp_memory *memory, pp_text *text,
                       pp_error *error);

#endif
