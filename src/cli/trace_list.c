/* kniferail trace list: what the gateway has kept beside its book. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "kniferail/config.h"
#include "trace_view.h"

#define FILES_MAX 4096

struct files {
    char *name[FILES_MAX];
    size_t n;
};

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static bool is_trace(const char *name)
{
    const char *end = strrchr(name, '.');
    return end != NULL && strcmp(end, ".trace") == 0;
}

/* A folder that is not there holds no trace. */
static bool find_files(const char *folder, struct files *files)
{
    DIR *dir = opendir(folder);
    if (dir == NULL && errno == ENOENT)
        return true;
    if (dir == NULL) {
        fprintf(stderr, "kniferail trace: %s: %s\n", folder, strerror(errno));
        return false;
    }
    for (struct dirent *entry; (entry = readdir(dir)) != NULL && files->n < FILES_MAX;)
        if (is_trace(entry->d_name) && (files->name[files->n] = strdup(entry->d_name)) != NULL)
            files->n++;
    closedir(dir);
    qsort(files->name, files->n, sizeof files->name[0], by_name);
    return true;
}

/* What can't be read is told, and the others are listed. */
static bool print_file(const char *folder, const char *name)
{
    char path[4096 + 300], error[sizeof path + KR_TRACE_TEXT_MAX], from[TRACE_TIME_MAX], to[TRACE_TIME_MAX];
    struct kr_trace_head head;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    if (!kr_trace_look(path, &head, error, sizeof error)) {
        fprintf(stderr, "kniferail trace: %s\n", error);
        return false;
    }
    printf("%s\n    station %s, %s to %s\n    %s\n", path, head.station, trace_time(head.first_utc_ms, from),
           trace_time(head.last_utc_ms, to), head.reason);
    return true;
}

static int list_folder(const char *folder)
{
    static struct files files;
    bool good = find_files(folder, &files);
    if (good && files.n == 0)
        printf("no trace is kept in %s\n", folder);
    for (size_t i = 0; i < files.n; i++) {
        good = print_file(folder, files.name[i]) && good;
        free(files.name[i]);
    }
    return kr_flushed(good ? KR_EXIT_OK : KR_EXIT_REFUSED);
}

/* The book's path; NULL after telling why there is none. */
static const char *book_of(const char *path)
{
    static struct kr_config config;
    if (!kr_read_config(path, &config))
        return NULL;
    if (config.book_path[0] != 0)
        return config.book_path;
    fprintf(stderr, "kniferail trace: %s names no book: no trace is kept\n", path);
    return NULL;
}

int trace_list(int argc, char **argv)
{
    const char *config = NULL, *book = NULL;
    char folder[4096];
    const struct kr_option options[] = {{"config", &config, NULL}, {"book", &book, NULL}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    if ((config == NULL) == (book == NULL))
        return kr_usage("trace", "list: either --config or --book, please");
    if (config != NULL && (book = book_of(config)) == NULL)
        return KR_EXIT_REFUSED;
    if ((size_t)snprintf(folder, sizeof folder, "%s.traces", book) >= sizeof folder)
        return kr_usage("trace", "list: the name of the book is too long");
    return list_folder(folder);
}
