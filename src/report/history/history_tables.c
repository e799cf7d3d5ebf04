/* The CSVs beside history.html, one a question. */
#include <math.h>
#include <string.h>

#include "report/history/history_page.h"

static void add_cell(pp_text *out, const char *cell)
{
    const char *text = cell ? cell : "";
    bool formula = text[0] && strchr("=+-@\t\r", text[0]);
    bool plain = !strpbrk(text, ",\"\r\n") && !formula;
    if (!plain) pp_text_add(out, formula ? "\"'" : "\"");
    for (const char *c = text; *c; c++) {
        if (*c == '"') pp_text_add(out, "\"");
        pp_text_add_bytes(out, c, 1);
    }
    pp_text_add(out, plain ? "," : "\",");
}

static void add_numbers(pp_text *out, size_t count, const double *value, const char *last)
{
    for (size_t i = 0; i < count; i++) {
        if (isfinite(value[i])) pp_text_add_number(out, value[i]);
        pp_text_add(out, i + 1 < count || last ? "," : "\n");
    }
    if (last) pp_text_add(out, last);
}

/* Always: by its first line a folder is known as one of ours. */
static bool has_charts(const pp_history_page *p) { return p != NULL; }
static bool has_shares(const pp_history_page *p) { return p->share_count > 0; }
static bool has_capability(const pp_history_page *p) { return p->size || p->place; }
static bool has_tools(const pp_history_page *p) { return p->tools != NULL; }

static void write_charts(const pp_history_page *page, pp_text *out)
{
    pp_text_add(out, "figure,plate,date,value,centre,lower,upper,beyond\n");
    for (size_t k = 0; k < page->chart_count; k++) {
        const pp_chart_answer *a = &page->charts[k];
        for (size_t i = 0; i < a->rows.count; i++) {
            add_cell(out, a->figure);
            add_cell(out, a->rows.rows[i].label);
            add_cell(out, a->rows.rows[i].date);
            const double values[] = {a->value[i], a->chart.centre, a->chart.lower, a->chart.upper};
            bool beyond = a->value[i] < a->chart.lower || a->value[i] > a->chart.upper;
            add_numbers(out, 4, values, beyond ? "yes\n" : "no\n");
        }
    }
}

static void write_shares(const pp_history_page *page, pp_text *out)
{
    pp_text_add(out, "figure,plate,date,count,of,share,centre,lower,upper,binomial_lower,"
                     "binomial_upper\n");
    for (size_t k = 0; k < page->share_count; k++) {
        const pp_share_answer *a = &page->shares[k];
        for (size_t i = 0; i < a->rows.count; i++) {
            const pp_history_row *row = &a->rows.rows[i];
            add_cell(out, a->figure);
            add_cell(out, row->label);
            add_cell(out, row->date);
            const double values[] = {row->count,
                                     row->out_of,
                                     a->chart.share[i],
                                     a->chart.centre,
                                     a->chart.lower[i],
                                     a->chart.upper[i],
                                     a->chart.binomial_lower[i],
                                     a->chart.binomial_upper[i]};
            add_numbers(out, 8, values, NULL);
        }
    }
}

/* Plates one by one; what is made of them stands on the page and in the answers. */
static void write_capability(const pp_history_page *page, pp_text *out)
{
    pp_text_add(out, "of,plate,date,holes,mean_dx,mean_dy,var_dx,var_dy,cov_dxdy,diameters,"
                     "mean_diameter,var_diameter,lower,upper,limit\n");
    const pp_capability_answer *const answers[] = {page->size, page->place};
    for (int k = 0; k < 2; k++) {
        const pp_capability_answer *a = answers[k];
        for (size_t i = 0; a && i < a->rows.count; i++) {
            const pp_plate_moments *m = &a->moments[i];
            add_cell(out, a->position ? "position" : "diameter");
            add_cell(out, a->rows.rows[i].label);
            add_cell(out, a->rows.rows[i].date);
            const double values[] = {m->holes,        m->mean_dx,  m->mean_dy,   m->var_dx,
                                     m->var_dy,       m->cov_dxdy, m->diameters, m->mean_diameter,
                                     m->var_diameter, a->lower,    a->upper,     a->limit};
            add_numbers(out, 12, values, NULL);
        }
    }
}

static void write_tools(const pp_history_page *page, pp_text *out)
{
    pp_text_add(out, "tool,plate,machine,used_before,holes,level,slope,scatter,last\n");
    for (size_t i = 0; i < page->tools->count; i++) {
        const pp_tool_row *t = &page->tools->tools[i];
        add_cell(out, t->tool);
        add_cell(out, t->plate);
        add_cell(out, t->machine);
        const double values[] = {(double)t->used_before, (double)t->holes, t->line.level,
                                 t->line.slope,          t->line.scatter,  t->line.last};
        add_numbers(out, 6, values, NULL);
    }
}

const pp_history_table pp_history_tables[] = {{"history.csv", has_charts, write_charts},
                                              {"shares.csv", has_shares, write_shares},
                                              {"capability.csv", has_capability, write_capability},
                                              {"tools.csv", has_tools, write_tools},
                                              {NULL, NULL, NULL}};
