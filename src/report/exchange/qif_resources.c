/* What the measurements refer to: datums and their frame, the devices, the drawing. */
#include <string.h>

#include "report/exchange/qif_parts.h"

static uint32_t datum_circle(const pp_qif_writer *w, int i)
{
    const pp_nominal *nominal = w->results->measures->nominal;
    const char *name = w->results->job->holes.datum_holes[i];
    for (size_t h = 0; name && h < nominal->count; h++)
        if (strcmp(nominal->name[h], name) == 0) return w->nominal_of[h];
    return PP_NONE;
}

static bool has_datum_holes(const pp_qif_writer *w)
{
    return w->results->measures && w->results->job->holes.align == PP_ALIGN_TWO_HOLES;
}

static void add_datums(pp_qif_writer *w)
{
    static const char *const LABELS[] = {"B", "C"};
    if (!has_datum_holes(w)) return;
    pp_qif_begin_list(w, "DatumDefinitions", 2);
    for (int i = 0; i < 2; i++) {
        uint32_t circle = datum_circle(w, i);
        pp_qif_begin(w, "DatumDefinition", "", PP_QIF_DATUM + (size_t)i);
        pp_qif_text_element(w, "DatumLabel", LABELS[i]);
        if (circle != PP_NONE) pp_qif_ids(w, "FeatureNominalIds", w->first_nominal_circle + circle);
        pp_qif_end(w, "DatumDefinition", "");
    }
    pp_qif_end_list(w, "DatumDefinitions");
}

static void add_datum_references(pp_qif_writer *w)
{
    static const char *const PRECEDENCE[] = {"PRIMARY", "SECONDARY"};
    if (!has_datum_holes(w)) return;
    pp_qif_begin_list(w, "Datums", 2);
    for (int i = 0; i < 2; i++) {
        pp_qif_add(w, "<Datum><SimpleDatum>");
        pp_qif_count_element(w, "DatumDefinitionId", PP_QIF_DATUM + (size_t)i);
        pp_qif_add(w, "<MaterialModifier>REGARDLESS</MaterialModifier>"
                      "<ReferencedComponent>ACTUAL</ReferencedComponent></SimpleDatum>"
                      "<Precedence><PrecedenceEnum>");
        pp_qif_add(w, PRECEDENCE[i]);
        pp_qif_add(w, "</PrecedenceEnum></Precedence></Datum>");
    }
    pp_qif_end_list(w, "Datums");
}

static const char *frame_words(const pp_job *job)
{
    switch (job->holes.align) {
    case PP_ALIGN_AS_MEASURED:
        return "The coordinates as measured are taken for those of the plate.";
    case PP_ALIGN_BEST_FIT:
        return "The measured pattern laid on the nominal one by least squares: the pattern against "
               "itself; its place on the plate is not judged.";
    case PP_ALIGN_TWO_HOLES:
        return "The first datum hole at its nominal place, the second in its nominal direction.";
    case PP_ALIGN_DATUM_POINTS:
        return "The datum points of the job laid on their nominal places by least squares.";
    }
    return "";
}

static void add_frame(pp_qif_writer *w)
{
    pp_qif_begin(w, "DatumReferenceFrame", "", PP_QIF_FRAME);
    add_datum_references(w);
    pp_qif_add(w, "<Name>plate</Name>");
    pp_qif_text_element(w, "Description", frame_words(w->results->job));
    pp_qif_count_element(w, "CoordinateSystemId", PP_QIF_PLATE_AXES);
    pp_qif_end(w, "DatumReferenceFrame", "");
}

/* Of the position within the pattern: on top of the frame of the plate. */
static void add_pattern_frame(pp_qif_writer *w)
{
    const pp_measures *m = w->results->measures;
    pp_qif_begin(w, "DatumReferenceFrame", "", PP_QIF_PATTERN_FRAME);
    pp_qif_begin_list(w, "Attributes", 3);
    pp_qif_attribute_number(w, "turnDegrees", m->pattern_angle_deg);
    pp_qif_attribute_number(w, "shiftX", m->pattern_dx);
    pp_qif_attribute_number(w, "shiftY", m->pattern_dy);
    pp_qif_end_list(w, "Attributes");
    pp_qif_add(w, "<Name>pattern</Name><Description>The pattern laid on itself by least squares: "
                  "measured centres are turned about the origin of the plate's coordinates, then "
                  "shifted, before they are held against the nominal ones.</Description>");
    pp_qif_end(w, "DatumReferenceFrame", "");
}

static void add_frames(pp_qif_writer *w)
{
    const pp_measures *m = w->results->measures;
    bool two = m && m->position_within;
    pp_qif_add(w, "<CoordinateSystems><CoordinateSystemDefinitions n=\"1\">");
    pp_qif_begin(w, "CoordinateSystem", "", PP_QIF_PLATE_AXES);
    pp_qif_add(w, "<Name>plate: x and y in its plane, z away from the supports</Name>");
    pp_qif_end(w, "CoordinateSystem", "");
    pp_qif_add(w, "</CoordinateSystemDefinitions></CoordinateSystems>\n");
    if (!m) return;
    pp_qif_begin_list(w, "DatumReferenceFrames", two ? 2 : 1);
    add_frame(w);
    if (two) add_pattern_frame(w);
    pp_qif_end_list(w, "DatumReferenceFrames");
}

static void add_device(pp_qif_writer *w, size_t i)
{
    const pp_instrument *device = &w->results->job->instruments[i];
    pp_qif_begin(w, "MeasurementDevice", "", w->first_device + i);
    pp_qif_text_element(w, "Name", device->name);
    pp_qif_text_element(w, "Description", device->kind);
    pp_qif_text_element(w, "SerialNumber", device->serial);
    if (device->certificate) {
        pp_qif_begin_list(w, "Attributes", 1);
        pp_qif_attribute(w, "calibrationCertificate", device->certificate);
        pp_qif_end_list(w, "Attributes");
    }
    if (device->calibration_due) {
        pp_qif_add(w, "<Calibrations n=\"1\"><Calibration>");
        pp_qif_date_element(w, "ExpirationDate", device->calibration_due);
        pp_qif_add(w, "</Calibration></Calibrations>");
    }
    pp_qif_end(w, "MeasurementDevice", "");
}

static void add_devices(pp_qif_writer *w)
{
    if (!w->device_count) return;
    pp_qif_add(w, "<MeasurementResources>");
    pp_qif_begin_list(w, "MeasurementDevices", w->device_count);
    for (size_t i = 0; i < w->device_count; i++) add_device(w, i);
    pp_qif_end_list(w, "MeasurementDevices");
    pp_qif_add(w, "</MeasurementResources>\n");
}

void pp_qif_add_device_of(pp_qif_writer *w, const char *role)
{
    const pp_results *r = w->results;
    for (size_t i = 0; i < r->input_count; i++) {
        const pp_instrument *device = r->inputs[i].instrument;
        if (!device || strcmp(r->inputs[i].role, role) != 0) continue;
        pp_qif_ids(w, "MeasurementDeviceIds",
                   w->first_device + (size_t)(device - r->job->instruments));
        return;
    }
}

static void add_drawing(pp_qif_writer *w, const pp_job *job)
{
    if (!job->drawing) return;
    pp_qif_begin(w, "DefinitionExternal", " n=\"1\"", PP_QIF_EXTERNAL);
    pp_qif_begin(w, "PrintedDrawing", "", PP_QIF_DRAWING);
    pp_qif_text_element(w, "Name", job->drawing);
    pp_qif_text_element(w, "Version", job->drawing_revision);
    pp_qif_text_element(w, "DrawingNumber", job->drawing);
    pp_qif_end(w, "PrintedDrawing", "");
    pp_qif_end_list(w, "DefinitionExternal");
}

static void add_product(pp_qif_writer *w)
{
    const pp_job *job = w->results->job;
    const char *name = job->plate_id ? job->plate_id : job->title ? job->title : job->name;
    pp_qif_add(w, "<Product><PartSet n=\"1\">");
    pp_qif_begin(w, "Part", "", PP_QIF_PART);
    if (job->material) {
        pp_qif_begin_list(w, "Attributes", 1);
        pp_qif_attribute(w, "material", job->material);
        pp_qif_end_list(w, "Attributes");
    }
    pp_qif_add(w, "<Header>");
    pp_qif_text_element(w, "Name", name);
    pp_qif_text_element(w, "Description", job->plate_role);
    pp_qif_add(w, "</Header>");
    pp_qif_text_element(w, "ModelNumber", job->item);
    add_drawing(w, job);
    pp_qif_end(w, "Part", "");
    pp_qif_add(w, "</PartSet><RootPart>");
    pp_qif_count_element(w, "Id", PP_QIF_PART);
    pp_qif_add(w, "</RootPart></Product>\n");
}

void pp_qif_add_resources(pp_qif_writer *w)
{
    add_datums(w);
    add_frames(w);
    add_devices(w);
    add_product(w);
}
