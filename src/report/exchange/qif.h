/* results.qif: what was measured and judged in the quality information framework (QIF 3.0, ISO
 * 23952), for quality systems.
 *
 * Features: the surveyed plane and every tube hole and hole of kind other as nominal circle, as an
 * item for each face read, and as measured circle (centre, mean, smallest and largest diameter).
 * Characteristics: flatness, position (and that of the pattern), diameter and ligament (distance
 * between), each with its tolerance and where that comes from, value, combined standard
 * uncertainty, expanded uncertainty (k = 2) and status: PASS, FAIL, INDETERMINATE (not proven),
 * NOT_ANALYZED; NOT_MEASURED of a plugged hole. The rule of a share ("96 % within the standard
 * limits, the rest within the outermost") is a characteristic of its own; the tolerance of one hole
 * is the outermost limit. Holes that the
 * drawing does not have are a characteristic, too: their number, none of which may be. Lengths in
 * mm, in the plate frame, brought to 20 C where the job asks for it. What was given no limit is
 * left out. The identifiers depend on the inputs only.
 */
#ifndef PP_REPORT_EXCHANGE_QIF_H
#define PP_REPORT_EXCHANGE_QIF_H

#include "answer/results.h"
#include "base/sink.h"

/* Unless all are asked for, ligaments that keep the standard limit are left out but for the worst:
 * they follow from the circles, and are many. An item takes about a kilobyte, with its features.
 * With more items than this, and unless all are asked for, only those that fail or are not proven
 * are listed, plugged holes, and the worst of each characteristic; the document says so. */
enum { PP_QIF_ITEMS_MAX = 50000 };

/* Is there something to put in it? */
bool pp_qif_has_content(const pp_results *results);

/* Written piece by piece: memory is a few bytes for each hole and item.
 * whole    every item, however many
 * errors   PP_ENOMEM; those of the sink */
pp_status pp_qif_write(const pp_results *results, bool whole, pp_memory *memory,
                       const pp_sink *sink, pp_error *error);

#endif
