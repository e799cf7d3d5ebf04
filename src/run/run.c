#include "run/run.h"

#include "holes/measures_take.h"
#include "input/survey.h"
#include "plate/flatness_study.h"
#include "report/inputs.h"

