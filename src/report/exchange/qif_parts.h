/* The parts of the writer of results.qif, between themselves. */
#ifndef PP_REPORT_EXCHANGE_QIF_PARTS_H
#define PP_REPORT_EXCHANGE_QIF_PARTS_H

#include "report/exchange/qif.h"

/* Identifiers that a document has at most once. */
enum {
    PP_QIF_STANDARD = 1,
    PP_QIF_RESULTS,
    PP_QIF_COMPONENT,
    PP_QIF_PART,
    PP_QIF_EXTERNAL,
    PP_QIF_DRAWING,
    PP_QIF_PLATE_AXES,
    PP_QIF_DATUM, /* two: the holes of two-holes */
    PP_QIF_FRAME = PP_QIF_DATUM + 2,
    PP_QIF_PATTERN_FRAME,
    PP_QIF_PLANE_DEFINITION,
    PP_QIF_PLANE_NOMINAL,
    PP_QIF_PLANE_ITEM,
    PP_QIF_PLANE_MEASUREMENT,
    PP_QIF_CIRCLE_DEFINITION,
    PP_QIF_FIRST
};

/* One definition and nominal: items of a characteristic share theirs; a hole of kind other has its
 * own. */
typedef struct pp_qif_definition {
    pp_characteristic which;
    uint32_t hole; /* of kind other; PP_NONE: all tube holes */
    double lower, upper, target;
} pp_qif_definition;

typedef struct pp_qif_item {
    uint32_t finding;
    uint32_t definition; /* index */
} pp_qif_item;

/* A rule of a share, and its five identifiers from `id` on. */
typedef struct pp_qif_share {
    pp_characteristic which;
    const pp_count_rule *rule;
    size_t id;
} pp_qif_share;

enum { /* of a share, added to its id */
       PP_QIF_SHARE_STANDARD,
       PP_QIF_SHARE_DEFINITION,
       PP_QIF_SHARE_NOMINAL,
       PP_QIF_SHARE_ITEM,
       PP_QIF_SHARE_MEASUREMENT,
       PP_QIF_SHARE_IDS
};

enum { /* of the characteristic of extra holes, added to its first id */
       PP_QIF_EXTRA_DEFINITION,
       PP_QIF_EXTRA_NOMINAL,
       PP_QIF_EXTRA_ITEM,
       PP_QIF_EXTRA_MEASUREMENT,
       PP_QIF_EXTRA_IDS
};

enum { PP_QIF_SHARES_MAX = 2 };

typedef struct pp_qif_writer {
    const pp_results *results;
    pp_memory *memory;
    const pp_sink *sink;
    pp_text text;     /* not handed to the sink yet */
    pp_status status; /* of the sink; nothing is written after a failure */
    pp_error *error;
    bool whole, shortened; /* not every item is listed */
    bool thinned;          /* ligaments within the standard limit are left out */

    size_t definition_count, item_count;
    pp_qif_definition *definitions;
    pp_qif_item *items;
    uint32_t common[PP_CHARACTERISTICS]; /* definition of its tube holes; PP_NONE: none yet */
    size_t share_count;
    pp_qif_share shares[PP_QIF_SHARES_MAX];

    bool extra;         /* holes that the drawing does not have are judged */
    size_t first_extra; /* PP_QIF_EXTRA_IDS identifiers */

    bool plane;           /* the surveyed plane is a feature */
    size_t nominal_count; /* circles */
    size_t own_circles;   /* definitions of holes of kind other */
    uint32_t *nominal_of; /* [nominal hole] number of its circle; PP_NONE: none */
    size_t feature_count; /* circles read on a face, that have a nominal one */
    uint32_t *feature_of; /* [bore < extra_first] number of its item; PP_NONE: none */
    size_t extra_count;   /* circles that match no nominal hole */
    size_t device_count;  /* instruments of the job */
    size_t first_device, first_own_circle, first_nominal_circle, first_circle_item,
        first_circle_measurement, first_definition, first_nominal, first_item, first_measurement;
    size_t last; /* idMax */
} pp_qif_writer;

/* ---- text: qif_text.c ---- */

/* Markup, as it is. */
void pp_qif_add(pp_qif_writer *w, const char *text);
/* A whole number. */
void pp_qif_count(pp_qif_writer *w, size_t number);
void pp_qif_decimal(pp_qif_writer *w, double value);     /* xs:decimal: no exponent */
void pp_qif_foreign(pp_qif_writer *w, const char *text); /* escaped, and what XML has */
/* <name>...</name>; a text that is NULL or "" gives nothing */
void pp_qif_text_element(pp_qif_writer *w, const char *name, const char *text);
void pp_qif_decimal_element(pp_qif_writer *w, const char *name, double value);
void pp_qif_count_element(pp_qif_writer *w, const char *name, size_t number);
/* <name>YYYY-MM-DDT00:00:00</name>; NULL gives nothing */
void pp_qif_date_element(pp_qif_writer *w, const char *name, const char *date);
/* <name n="1"><Id>id</Id></name> */
void pp_qif_ids(pp_qif_writer *w, const char *name, size_t id);
/* <name n="count">, and what stands behind a list's name */
void pp_qif_begin_list(pp_qif_writer *w, const char *name, size_t count);
void pp_qif_end_list(pp_qif_writer *w, const char *name);
/* <name id="id"> */
void pp_qif_begin(pp_qif_writer *w, const char *name, const char *ending, size_t id);
void pp_qif_end(pp_qif_writer *w, const char *name, const char *ending);
/* An attribute of text or number, within Attributes. */
void pp_qif_attribute(pp_qif_writer *w, const char *name, const char *value);
void pp_qif_attribute_number(pp_qif_writer *w, const char *name, double value);
void pp_qif_attribute_count(pp_qif_writer *w, const char *name, size_t value);
/* ` combinedUncertainty="u" meanError="bias">value</name>`; without an uncertainty only the value
 */
void pp_qif_measured(pp_qif_writer *w, const char *name, double value, double u, double bias);
/* Hand over what waits, once it is enough. */
void pp_qif_flush(pp_qif_writer *w, bool all);

/* ---- parts of the document ---- */

const char *pp_qif_element(int which); /* "PositionCharacteristic" */
bool pp_qif_is_zone(int which);        /* its definition is a zone, not limits */
bool pp_qif_is_pair(int which);        /* of two holes */
bool pp_qif_is_of_face(int which);     /* of a hole on one face */
/* The identifier of a definition, by its index. */
size_t pp_qif_definitions_id(const pp_qif_writer *w, size_t definition);

void pp_qif_add_resources(pp_qif_writer *w);        /* datums, frames, devices, product */
void pp_qif_add_features(pp_qif_writer *w);         /* definitions, nominals, items */
void pp_qif_add_circles_measured(pp_qif_writer *w); /* MeasuredFeatures */
/* Characteristics: definitions with tolerances, nominals, items. */
void pp_qif_add_characteristics(pp_qif_writer *w);
/* Results: what was measured, how the inspection ended, of which plate. */
void pp_qif_add_results(pp_qif_writer *w);
/* <name>, an identifier that depends on `what` and the inputs, </name> */
void pp_qif_uuid(pp_qif_writer *w, const char *name, const char *what);
/* The devices that measured what this input lists, as MeasurementDeviceIds; nothing where none is
 * named. */
void pp_qif_add_device_of(pp_qif_writer *w, const char *role);

#endif
