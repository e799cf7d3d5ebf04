/* Which plateproof this is. */
#ifndef PLATEPROOF_VERSION_H
#define PLATEPROOF_VERSION_H

#ifdef __cplusplus
extern "C" {
#endif

/* "0.1.0": semantic version of the library that is running. */
const char *pp_version(void);

#ifdef __cplusplus
}
#endif
#endif
