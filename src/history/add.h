/* Putting things into a history: reports and events. */
#ifndef PP_HISTORY_ADD_H
#define PP_HISTORY_ADD_H

#include "history/report.h"
#include "history/store.h"

typedef enum pp_added {
    PP_ADDED_NEW,
    PP_ADDED_REPLACED,      /* it took the place of what it said before, which is kept */
    PP_ADDED_ALREADY_THERE, /* the same report, known by its hash */
    PP_ADDED_REFUSED        /* another report of that plate, stage and number is there, or another
                             * plate's with the same readings */
} pp_added;

/* Add a report, in one transaction.
 *
 * replace  let a changed report take the place of the one that is there, or one with the same
 *          readings under another plate's name
 * now      UTC, "2026-11-20T10:00:00Z"
 * out      *fate; text (room PP_ADDED_TEXT_MAX): why it was refused, "" otherwise
 * errors   of the file: PP_EIO locked, unreadable or full, PP_EINPUT no history or damaged;
 * PP_ENOMEM; nothing was changed */
enum { PP_ADDED_TEXT_MAX = 1024 };
pp_status pp_history_add(pp_history *history, const pp_kept_report *report, bool replace,
                         const char *now, pp_memory *memory, pp_added *fate,
                         char text[PP_ADDED_TEXT_MAX], pp_error *error);

/* Note that something changed on `date` (YYYY-MM-DD): charts, trends and corrections of the machine
 * start anew there; machine NULL: of all machines.
 * errors   PP_EINPUT: no such machine, no text, no date */
pp_status pp_history_note(pp_history *history, const char *text, const char *machine,
                          const char *date, const char *now, pp_error *error);

#endif
