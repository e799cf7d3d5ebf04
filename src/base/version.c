#include "plateproof/version.h"

const char *pp_version(void) { return PP_VERSION; }
