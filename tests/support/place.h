/* A temporary folder for a test, and what lies in a folder. */
#ifndef PP_TESTS_PLACE_H
#define PP_TESTS_PLACE_H

#include <dirent.h>
#include <ftw.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

typedef struct test_place {
    char path[256];
} test_place;

static inline test_place test_place_make(void)
{
    const char *where = getenv("TMPDIR");
    test_place place;
    snprintf(place.path, sizeof place.path, "%s/plateproof-test-XXXXXX",
             where && *where ? where : P_tmpdir);
    if (!mkdtemp(place.path)) abort();
    return place;
}

static inline int test_remove_one(const char *path, const struct stat *facts, int kind,
                                  struct FTW *level)
{
    (void)facts, (void)kind, (void)level;
    return remove(path);
}

static inline void test_place_remove(const test_place *place)
{
    nftw(place->path, test_remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

/* "PLACE/name", valid until the eighth call from now. */
static inline const char *test_path(const test_place *place, const char *name)
{
    static char paths[8][512];
    static int next;
    char *path = paths[next++ % 8];
    snprintf(path, sizeof paths[0], "%.255s/%.200s", place->path, name);
    return path;
}

static inline void test_write(const char *path, const char *bytes)
{
    FILE *file = fopen(path, "wb");
    if (!file || fputs(bytes, file) < 0 || fclose(file) != 0) abort();
}

/* The whole file as text, to be freed; NULL when there is none. */
static inline char *test_read(const char *path)
{
    FILE *file = fopen(path, "rb");
    if (!file) return NULL;
    fseek(file, 0, SEEK_END);
    long length = ftell(file);
    rewind(file);
    char *bytes = malloc((size_t)length + 1);
    if (!bytes || fread(bytes, 1, (size_t)length, file) != (size_t)length) abort();
    bytes[length] = '\0';
    fclose(file);
    return bytes;
}

/* How many names, hidden ones too. */
static inline int test_count(const char *path)
{
    DIR *list = opendir(path);
    int count = -2;
    if (!list) return -1;
    while (readdir(list)) count++;
    closedir(list);
    return count;
}

#endif
