/* Circles and the plane: nominal, read on a face, measured. */
#include <math.h>

#include "answer/machine_names.h"
#include "report/exchange/qif_parts.h"

static void add_point(pp_qif_writer *w, const char *name, double x, double y, double z)
{
    pp_qif_add(w, "<");
    pp_qif_add(w, name);
    pp_qif_add(w, ">");
    pp_qif_decimal(w, x);
    pp_qif_add(w, " ");
    pp_qif_decimal(w, y);
    pp_qif_add(w, " ");
    pp_qif_decimal(w, z);
    pp_qif_add(w, "</");
    pp_qif_add(w, name);
    pp_qif_add(w, ">");
}

static void add_circle_definition(pp_qif_writer *w, size_t id, double diameter)
{
    pp_qif_begin(w, "CircleFeatureDefinition", "", id);
    pp_qif_add(w, "<InternalExternal>INTERNAL</InternalExternal>");
    pp_qif_decimal_element(w, "Diameter", diameter);
    pp_qif_end(w, "CircleFeatureDefinition", "");
}

static bool has_tube_circles(const pp_qif_writer *w) { return w->nominal_count > w->own_circles; }

static void add_definitions(pp_qif_writer *w)
{
    const pp_measures *m = w->results->measures;
    size_t own = 0;
    pp_qif_begin_list(w, "FeatureDefinitions",
                      (size_t)w->plane + has_tube_circles(w) + w->own_circles);
    if (w->plane) {
        pp_qif_begin(w, "PlaneFeatureDefinition", "", PP_QIF_PLANE_DEFINITION);
        pp_qif_end(w, "PlaneFeatureDefinition", "");
    }
    if (has_tube_circles(w))
        add_circle_definition(w, PP_QIF_CIRCLE_DEFINITION,
                              pp_limits_drilled(w->results->limits, w->results->job));
    for (size_t h = 0; own < w->own_circles; h++)
        if (w->nominal_of[h] != PP_NONE && m->nominal->kind[h] != PP_TUBE_HOLE)
            add_circle_definition(w, w->first_own_circle + own++, m->nominal->diameter[h]);
    pp_qif_end_list(w, "FeatureDefinitions");
}

static void add_nominals(pp_qif_writer *w)
{
    size_t own = 0, holes = w->nominal_count ? w->results->measures->nominal->count : 0;
    pp_qif_begin_list(w, "FeatureNominals", w->plane + w->nominal_count);
    if (w->plane) {
        pp_qif_begin(w, "PlaneFeatureNominal", "", PP_QIF_PLANE_NOMINAL);
        pp_qif_add(w, "<Name>surveyed face</Name>");
        pp_qif_count_element(w, "FeatureDefinitionId", PP_QIF_PLANE_DEFINITION);
        pp_qif_add(w, "<Location>0 0 0</Location><Normal>0 0 1</Normal>");
        pp_qif_end(w, "PlaneFeatureNominal", "");
    }
    for (size_t h = 0; h < holes; h++) {
        if (w->nominal_of[h] == PP_NONE) continue;
        const pp_nominal *nominal = w->results->measures->nominal;
        bool tube = nominal->kind[h] == PP_TUBE_HOLE;
        pp_qif_begin(w, "CircleFeatureNominal", "", w->first_nominal_circle + w->nominal_of[h]);
        pp_qif_text_element(w, "Name", nominal->name[h]);
        pp_qif_count_element(w, "FeatureDefinitionId",
                             tube ? PP_QIF_CIRCLE_DEFINITION : w->first_own_circle + own++);
        add_point(w, "Location", nominal->x[h], nominal->y[h], 0);
        pp_qif_add(w, "<Normal>0 0 1</Normal>");
        pp_qif_end(w, "CircleFeatureNominal", "");
    }
    pp_qif_end_list(w, "FeatureNominals");
}

static void add_bore_name(pp_qif_writer *w, size_t bore)
{
    const pp_measures *m = w->results->measures;
    pp_qif_add(w, "<FeatureName>");
    pp_qif_foreign(w, pp_bore_name(m, bore));
    pp_qif_add(w, m->bores[bore].face == PP_EXIT ? " exit" : " entry");
    pp_qif_add(w, "</FeatureName>");
}

static void add_items(pp_qif_writer *w)
{
    const pp_measures *m = w->results->measures;
    if (!w->plane && !w->feature_count) return;
    pp_qif_begin_list(w, "FeatureItems", w->plane + w->feature_count);
    if (w->plane) {
        pp_qif_begin(w, "PlaneFeatureItem", "", PP_QIF_PLANE_ITEM);
        pp_qif_count_element(w, "FeatureNominalId", PP_QIF_PLANE_NOMINAL);
        pp_qif_add(w, "<FeatureName>surveyed face</FeatureName>"
                      "<DeterminationMode><Checked/></DeterminationMode>");
        pp_qif_end(w, "PlaneFeatureItem", "");
    }
    for (size_t b = 0; w->feature_count && b < m->extra_first; b++) {
        if (w->feature_of[b] == PP_NONE) continue;
        pp_qif_begin(w, "CircleFeatureItem", "", w->first_circle_item + w->feature_of[b]);
        pp_qif_count_element(w, "FeatureNominalId",
                             w->first_nominal_circle + w->nominal_of[m->bores[b].hole]);
        add_bore_name(w, b);
        pp_qif_add(w, "<DeterminationMode><Checked/></DeterminationMode>");
        pp_qif_end(w, "CircleFeatureItem", "");
    }
    pp_qif_end_list(w, "FeatureItems");
}

void pp_qif_add_features(pp_qif_writer *w)
{
    if (!w->plane && !w->nominal_count) return;
    pp_qif_add(w, "<Features>\n");
    add_definitions(w);
    add_nominals(w);
    add_items(w);
    pp_qif_add(w, "</Features>\n");
}

/* ---- measured ---- */

static void add_plane_measured(pp_qif_writer *w)
{
    const pp_flatness *flatness = w->results->flatness;
    bool zone = w->results->job->survey.flatness_zone == PP_ZONE_MINIMUM;
    pp_plane plane = zone ? flatness->minimum_zone.plane : flatness->least_squares.plane;
    if (w->results->survey) plane = pp_plane_in_plate(&w->results->survey->frame, &plane);
    pp_qif_begin(w, "PlaneFeatureMeasurement", "", PP_QIF_PLANE_MEASUREMENT);
    pp_qif_count_element(w, "FeatureItemId", PP_QIF_PLANE_ITEM);
    pp_qif_add(w, "<FeatureName>surveyed face</FeatureName>");
    pp_qif_add_device_of(w, "survey");
    pp_qif_add(w, "<SubstituteFeatureAlgorithm><SubstituteFeatureAlgorithmEnum>");
    pp_qif_add(w, zone ? "MINMAX" : "LEASTSQUARES");
    pp_qif_add(w, "</SubstituteFeatureAlgorithmEnum></SubstituteFeatureAlgorithm>");
    add_point(w, "Location", plane.point[0], plane.point[1], plane.point[2]);
    add_point(w, "Normal", plane.normal[0], plane.normal[1], plane.normal[2]);
    pp_qif_decimal_element(
        w, "Form", zone ? flatness->minimum_zone.flatness : flatness->least_squares.flatness);
    pp_qif_end(w, "PlaneFeatureMeasurement", "");
}

static void add_centre(pp_qif_writer *w, size_t b)
{
    const pp_measures *m = w->results->measures;
    const pp_bore *bore = &m->bores[b];
    double u = pp_bore_error_of(m, b).u_centre;
    pp_qif_add(w, "<Location");
    if (isfinite(u)) {
        pp_qif_add(w, " xCombinedUncertainty=\"");
        pp_qif_decimal(w, u);
        pp_qif_add(w, "\" yCombinedUncertainty=\"");
        pp_qif_decimal(w, u);
        pp_qif_add(w, "\"");
    }
    pp_qif_add(w, ">");
    pp_qif_decimal(w, bore->at.x);
    pp_qif_add(w, " ");
    pp_qif_decimal(w, bore->at.y);
    pp_qif_add(w, " 0</Location><Normal>0 0 1</Normal>");
}

static void add_diameters(pp_qif_writer *w, const pp_bore *bore)
{
    double u = w->results->job->holes.uncertainty_diameter / 2;
    if (bore->gauged || !isfinite(bore->diameter_mean)) return;
    pp_qif_measured(w, "Diameter", bore->diameter_mean, u, 0);
    pp_qif_decimal_element(w, "DiameterMin", bore->diameter_min);
    pp_qif_decimal_element(w, "DiameterMax", bore->diameter_max);
}

static void add_circle_measured(pp_qif_writer *w, size_t b, size_t id, size_t item)
{
    const pp_bore *bore = &w->results->measures->bores[b];
    pp_qif_begin(w, "CircleFeatureMeasurement", "", id);
    if (item) pp_qif_count_element(w, "FeatureItemId", item);
    add_bore_name(w, b);
    pp_qif_add_device_of(w, "measured");
    add_centre(w, b);
    add_diameters(w, bore);
    pp_qif_end(w, "CircleFeatureMeasurement", "");
}

void pp_qif_add_circles_measured(pp_qif_writer *w)
{
    const pp_measures *m = w->results->measures;
    size_t id = w->first_circle_measurement;
    size_t count = w->plane + w->feature_count + w->extra_count;
    if (!count) return;
    pp_qif_begin_list(w, "MeasuredFeatures", count);
    if (w->plane) add_plane_measured(w);
    for (size_t b = 0; m && b < m->bore_count; b++) {
        bool extra = b >= m->extra_first;
        if (!extra && w->feature_of[b] == PP_NONE) continue;
        add_circle_measured(w, b, id, extra ? 0 : w->first_circle_item + w->feature_of[b]);
        id++;
    }
    pp_qif_end_list(w, "MeasuredFeatures");
}
