/* Preloaded into the program: the PP_FAIL_AT-th allocation that the program itself (not a library
 * it uses) asks for fails. With PP_FAIL_COUNT, says at the end on standard error how many there
 * were. */
#define _GNU_SOURCE
#include <errno.h>
#include <link.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);
void *__libc_memalign(size_t alignment, size_t size);

static unsigned long begin, end; /* the program's own code */
static long fail_at;
static atomic_long asked;

static int note_program(struct dl_phdr_info *info, size_t size, void *unused)
{
    (void)size, (void)unused;
    for (int i = 0; i < info->dlpi_phnum; i++)
        if (info->dlpi_phdr[i].p_type == PT_LOAD && (info->dlpi_phdr[i].p_flags & PF_X)) {
            begin = info->dlpi_addr + info->dlpi_phdr[i].p_vaddr;
            end = begin + info->dlpi_phdr[i].p_memsz;
        }
    return 1; /* the first is the program */
}

__attribute__((constructor)) static void start(void)
{
    const char *text = getenv("PP_FAIL_AT");
    fail_at = text ? atol(text) : 0;
    dl_iterate_phdr(note_program, NULL);
}

__attribute__((destructor)) static void finish(void)
{
    if (getenv("PP_FAIL_COUNT")) fprintf(stderr, "%ld\n", atomic_load(&asked));
}

static int fails(void *caller)
{
    unsigned long place = (unsigned long)caller;
    if (place < begin || place >= end) return 0;
    if (atomic_fetch_add(&asked, 1) + 1 != fail_at) return 0;
    errno = ENOMEM;
    return 1;
}

#define CALLER __builtin_return_address(0)

void *malloc(size_t size) { return fails(CALLER) ? NULL : __libc_malloc(size); }
void *calloc(size_t count, size_t size)
{
    return fails(CALLER) ? NULL : __libc_calloc(count, size);
}
void *realloc(void *old, size_t size) { return fails(CALLER) ? NULL : __libc_realloc(old, size); }
void *aligned_alloc(size_t alignment, size_t size)
{
    return fails(CALLER) ? NULL : __libc_memalign(alignment, size);
}
