/* Rules for holes and ligaments, read from a rule file. */
#ifndef PP_RULES_HOLE_RULES_H
#define PP_RULES_HOLE_RULES_H

#include "input/job/job.h"
#include "rules/rule_file.h"

typedef enum pp_rule_topic {
    PP_RULE_HOLES,           /* [holes PART FIT TABLE]: sizes and tolerances */
    PP_RULE_LIGAMENTS,       /* [ligaments PART TABLE]: the least that all must have */
    PP_RULE_LIGAMENT_FORMULA /* [ligament-formula PART TABLE]: what nearly all must have */
} pp_rule_topic;

typedef enum pp_rule_column { /* lengths in mm; NaN where the cell is - or there is no column */
                              PP_RULE_TUBE,       /* the row is for this tube ... */
                              PP_RULE_TUBE_ALSO,  /* ... or this one: the same tube by another name
                                                   */
                              PP_RULE_TUBE_UP_TO, /* including */
                              PP_RULE_TUBE_BELOW, /* not including */
                              PP_RULE_SPAN_UP_TO, /* unsupported span, including */
                              PP_RULE_PITCH,
                              PP_RULE_HOLE,      /* nominal size ... */
                              PP_RULE_CLEARANCE, /* ... or how much larger than the tube */
                              PP_RULE_UNDER,
                              PP_RULE_OVER,
                              PP_RULE_OVER_LIMIT,
                              PP_RULE_MINIMUM,   /* ligament */
                              PP_RULE_ALLOWANCE, /* of the ligament formula, beside the drift */
                              PP_RULE_NUMBERS,   /* how many columns of numbers */
                              PP_RULE_SURE = PP_RULE_NUMBERS, /* letter: of the size */
                              PP_RULE_SURE_TOLERANCE, /* letter: of under, over and over_limit */
                              PP_RULE_COLUMNS
} pp_rule_column;

typedef struct pp_rule_row {
    long line;
    double value[PP_RULE_NUMBERS];
    char sure, sure_tolerance; /* 0: not said */
    const char *tube;          /* as written, with its unit: "1-1/4 in"; NULL */
} pp_rule_row;

enum { PP_RULE_ANY = -1 }; /* for every part, fit or table */

typedef struct pp_rule_table {
    pp_rule_topic topic;
    int part, fit, table; /* pp_part, pp_fit, pp_table or PP_RULE_ANY */
    long line;
    const char *source;   /* NULL */
    double drift_factor;  /* mm; NaN */
    double minimum_share; /* 0..1, of the nominal ligament; NaN */
    size_t row_count;
    const pp_rule_row *rows;
} pp_rule_table;

typedef struct pp_hole_rules {
    pp_rule_file file;
    size_t table_count;
    const pp_rule_table *tables;
} pp_hole_rules;

/* Read and check a rule file of kind holes; arguments as pp_rule_file_open.
 * errors   PP_EINPUT with file and line; PP_EIO: it cannot be read; PP_ENOMEM */
pp_status pp_hole_rules_read(const char *name, const pp_rule_place *place, pp_memory *memory,
                             pp_hole_rules *rules, pp_error *error);

/* The first table of the topic for this part, fit and table; NULL if there is none. */
const pp_rule_table *pp_hole_rules_table(const pp_hole_rules *rules, pp_rule_topic topic,
                                         pp_part part, pp_fit fit, pp_table table);

/* The first row of a table that holds for this tube (mm) and unsupported span (NaN: not given);
 * NULL if there is none. A tube is a row's when the two differ by at most 0.005 mm. */
const pp_rule_row *pp_hole_rules_row(const pp_rule_table *table, double tube, double span);

/* Whether some row of the table asks for the unsupported span. */
bool pp_hole_rules_need_span(const pp_rule_table *table);

/* The row of a ligament table for this pitch (within 0.05 mm, the nearest) and tube, which may go
 * by the names of `hole_row` (NULL: none) as well; NULL if there is none. */
const pp_rule_row *pp_hole_rules_ligament(const pp_rule_table *table, double tube,
                                          const pp_rule_row *hole_row, double pitch);

#endif
