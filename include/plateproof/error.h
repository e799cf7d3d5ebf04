/* Errors.
 *
 * Every function that can fail returns a pp_status: PP_OK (0), or a negative value. On failure the
 * outputs are untouched, and the last argument, the caller's pp_error, says what is wrong and what
 * to do about it. The library never prints, exits, aborts or keeps global state.
 *
 * A thin ligament or a plate that is not flat is a result, never an error: an error means "cannot
 * compute".
 */
#ifndef PLATEPROOF_ERROR_H
#define PLATEPROOF_ERROR_H

#ifdef __cplusplus
extern "C" {
#endif

typedef enum pp_status {
    PP_OK = 0,
    PP_EINPUT = -1,    /* the command line, the job file or the data are wrong */
    PP_ENOTHING = -2,  /* the inputs are sound, but there is nothing to compute from them */
    PP_EIO = -3,       /* a file is missing, or could not be read or written */
    PP_ENOMEM = -4,    /* memory ran out */
    PP_ENUMERIC = -5,  /* a calculation did not reach its stated accuracy */
    PP_ECANCELLED = -6 /* the caller asked to stop */
} pp_status;

enum { PP_ERROR_FILE_MAX = 512, PP_ERROR_TEXT_MAX = 4096 };

typedef struct pp_error {
    pp_status status;
    char file[PP_ERROR_FILE_MAX];    /* empty when no file is at fault */
    long line;                       /* from 1; 0 when no line is at fault */
    long column;                     /* CSV column, from 1; 0 when none is at fault */
    char message[PP_ERROR_TEXT_MAX]; /* "what is wrong; what to do"; of a file with several problems
                                        each further one on a line of its own, with its place */
} pp_error;

/* Fill in *error (which may be NULL) with a formatted message and return `status`. */
#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
pp_status
pp_fail(pp_error *error, pp_status status, const char *format, ...);

/* As pp_fail, and says where: `file` may be NULL, `line` and `column` 0. */
#if defined(__GNUC__)
__attribute__((format(printf, 6, 7)))
#endif
pp_status
pp_fail_at(pp_error *error, pp_status status, const char *file, long line, long column,
           const char *format, ...);

/* Memory ran out: always returns PP_ENOMEM. */
pp_status pp_fail_memory(pp_error *error);

/* Write "FILE:LINE:COLUMN: message" (as far as each part is known) into text[size]. */
void pp_error_format(const pp_error *error, char *text, unsigned long size);

/* Return early when a step fails. */
#define PP_TRY(step)                                                                               \
    do {                                                                                           \
        pp_status pp_try_status_ = (step);                                                         \
        if (pp_try_status_ != PP_OK) return pp_try_status_;                                        \
    } while (0)

#ifdef __cplusplus
}
#endif
#endif
