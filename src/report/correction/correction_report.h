/* A correction for people and programs: the hole list, correction.json, words. They only write. */
#ifndef PP_REPORT_CORRECTION_CORRECTION_REPORT_H
#define PP_REPORT_CORRECTION_CORRECTION_REPORT_H

#include "base/text.h"
#include "correction/correction.h"

/* corrected.csv: hole,x,y,kind,nominal_x,nominal_y,shift_x,shift_y; mm. errors: PP_ENOMEM */
pp_status pp_correction_csv(const pp_correction *correction, pp_text *text, pp_error *error);

/* correction.json, format "plateproof-correction", version 1. errors: PP_ENOMEM */
pp_status pp_correction_json(const pp_correction *correction, const pp_correct_options *options,
                             pp_text *text, pp_error *error);

/* correction.html: one page without script, for screen and paper. errors: PP_EIO as pp_html_open;
 * PP_ENOMEM */
pp_status pp_correction_page(const pp_correction *correction, const pp_correct_options *options,
                             pp_text *text, pp_error *error);

/* The decision, machine settings and promise in words. errors: PP_ENOMEM */
pp_status pp_correction_words(const pp_correction *correction, const pp_correct_options *options,
                              pp_text *text, pp_error *error);

/* A setting of the machine that would take out what repeats, instead of the list. */
typedef struct pp_machine_setting {
    const char *setting, *unit, *text;
    double value; /* ppm, urad, mm: what the machine does too much of */
} pp_machine_setting;
enum { PP_MACHINE_SETTINGS_MAX = 5 };
/* Fills settings with those that would take out what is corrected; returns how many. */
size_t pp_machine_settings(const pp_correction *correction,
                           pp_machine_setting settings[PP_MACHINE_SETTINGS_MAX]);

#endif
