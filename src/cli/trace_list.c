/* kniferail trace list: lists the traces that the gateway keeps beside its book. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "kniferail/config.h"
#include "trace_view.h"

static int is_trace(const struct dirent *entry)
{
    const char *end = strrchr(entry->d_name, '.');
    return end != NULL && strcmp(end, ".trace") == 0;
}

/* If a file can't be read, this is printed, and the others are listed. */
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

/* A folder that does not exist contains no traces. */
static int list_folder(const char *folder)
{
    struct dirent **file = NULL;
    int n = scandir(folder, &file, is_trace, alphasort);
    bool good = n >= 0 || errno == ENOENT;
    if (!good)
        fprintf(stderr, "kniferail trace: %s: %s\n", folder, strerror(errno));
    else if (n <= 0)
        printf("no trace is kept in %s\n", folder);
    for (int i = 0; i < n; i++) {
        good = print_file(folder, file[i]->d_name) && good;
        free(file[i]);
    }
    free(file);
    return kr_flushed(good ? KR_EXIT_OK : KR_EXIT_REFUSED);
}

/* Returns the book's path; NULL: the reason was printed. */
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
        return kr_usage("trace", "list needs either --config or --book");
    if (config != NULL && (book = book_of(config)) == NULL)
        return KR_EXIT_REFUSED;
    if ((size_t)snprintf(folder, sizeof folder, "%s.traces", book) >= sizeof folder)
        return kr_usage("trace", "the name of the book is too long");
    return list_folder(folder);
}
