#include "answer/identity.h"

#include <string.h>

void pp_identity_list(const pp_results *results, pp_named_text list[PP_IDENTITY_COUNT])
{
    const pp_job *j = results->job;
    const pp_named_text texts[PP_IDENTITY_COUNT] = {
        {"Customer", j->customer},
        {"Order", j->order},
        {"Item", j->item},
        {"Plate", j->plate_id},
        {"Role", j->plate_role},
        {"Serial number", j->serial},
        {"Drawing", j->drawing},
        {"Drawing revision", j->drawing_revision},
        {"Material", j->material},
        {"Heat number", j->heat_number},
        {"Supplier", j->supplier},
        {"Machine", j->machine.name},
        {"Machine's serial number", j->machine.serial},
        {"Drilling program", j->machine.program},
        {"Drilled on", j->machine.drilled},
        {"Procedure", j->procedure},
        {"Stage", j->stage},
        {"Inspector", j->inspector},
        {"Inspection date", j->inspection_date},
        {"Report number", j->report_number},
        {"Report revision", j->report_revision},
        {"Supersedes", j->supersedes},
        {"Report date", results->date},
        {PP_DATE_SOURCE_NAME, results->date_from_epoch ? "SOURCE_DATE_EPOCH, no clock" : NULL},
        {"Entry face is", j->holes.entry_face_is},
    };
    memcpy(list, texts, sizeof texts);
}
