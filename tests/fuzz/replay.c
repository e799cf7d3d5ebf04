/* Runs every file of the named folders through a fuzz target, once: what the fuzzer has found stays
 * tested in every build. */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "fuzz/target.h"

static int run_file(const char *path)
{
    struct stat about;
    if (stat(path, &about) != 0 || !S_ISREG(about.st_mode)) return 0;
    FILE *file = fopen(path, "rb");
    size_t size = (size_t)about.st_size;
    uint8_t *data = malloc(size + 1);
    if (!file || !data || fread(data, 1, size, file) != size) {
        fprintf(stderr, "%s could not be read\n", path);
        exit(1);
    }
    LLVMFuzzerTestOneInput(data, size);
    fclose(file);
    free(data);
    return 1;
}

int main(int argc, char **argv)
{
    int count = 0;
    for (int i = 1; i < argc; i++) {
        DIR *folder = opendir(argv[i]);
        if (!folder) {
            fprintf(stderr, "%s could not be opened\n", argv[i]);
            return 1;
        }
        for (struct dirent *entry; (entry = readdir(folder));) {
            char path[1024];
            snprintf(path, sizeof path, "%s/%s", argv[i], entry->d_name);
            count += run_file(path);
        }
        closedir(folder);
    }
    printf("%d files\n", count);
    return count ? 0 : 1;
}
