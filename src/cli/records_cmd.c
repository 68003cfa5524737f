/* kniferail records: writes a station's past from the book into the file that kniferail-panel shows. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "book_ask.h"
#include "progress.h"
#include "records_data.h"

#define LAST_STANDARD 100

struct arguments {
    struct book_ask ask;
    const char *out;
    long last;
};

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const char *last = NULL;
    const struct kr_option options[] = {
#define X(name) {#name, &a->ask.name, NULL},
        BOOK_ASK_OPTIONS(X)
#undef X
            {"out", &a->out, NULL},
        {"last", &last, NULL}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    a->last = LAST_STANDARD;
    if (last != NULL && !kr_number("records", "--last", last, 1, RECORDS_MAX, &a->last))
        return KR_EXIT_USAGE;
    return book_ask_read(&a->ask);
}

/* ---- the file -------------------------------------------------------------------------------------------------- */

static bool fail(const char *path)
{
    fprintf(stderr, "kniferail records: %s: %s\n", path, strerror(errno));
    return false;
}

static bool write_into(int fd, const json_t *json)
{
    FILE *file = fdopen(fd, "w");
    if (file == NULL) {
        close(fd);
        return false;
    }
    bool done =
        json_dumpf(json, file, JSON_COMPACT) == 0 && fputc('\n', file) != EOF && fflush(file) == 0 && fsync(fd) == 0;
    return fclose(file) == 0 && done;
}

/* Writes a new file beside the old one, then replaces it. Its folder and this program's umask decide who may read
 * it. */
static bool write_file(const char *path, const json_t *json)
{
    char *beside = malloc(strlen(path) + sizeof ".XXXXXX");
    if (beside == NULL)
        return fail(path);
    sprintf(beside, "%s.XXXXXX", path);
    int fd = mkstemp(beside);
    mode_t mask = umask(0);
    umask(mask);
    bool made = fd >= 0;
    bool done = made && fchmod(fd, 0644 & ~mask) == 0 && write_into(fd, json) && rename(beside, path) == 0;
    if (!done)
        fail(path);
    if (made && !done)
        unlink(beside);
    free(beside);
    return done;
}

static bool write_out(const struct arguments *a, const json_t *json)
{
    if (a->out != NULL)
        return write_file(a->out, json);
    if (json_dumpf(json, stdout, JSON_INDENT(1)) == 0 && putchar('\n') != EOF)
        return true;
    return fail("standard output");
}

/* ---- the whole ------------------------------------------------------------------------------------------------- */

static void now_text(char text[32])
{
    time_t seconds = time(NULL);
    struct tm utc;
    strftime(text, 32, "%Y-%m-%dT%H:%M:%SZ", gmtime_r(&seconds, &utc));
}

/* If the book does not agree with its seals, this is printed and noted in the file, which is written nonetheless. */
static int tell(struct arguments *a, struct kr_history *history)
{
    struct records records = {.last = (size_t)a->last};
    char at[32];
    now_text(at);
    int status = KR_EXIT_REFUSED;
    bool read = records_read(&records, history, &a->ask.part);
    kr_progress_hide();
    if (!read) {
        fprintf(stderr, "kniferail records: %s\n", records.failed ? "out of memory" : kr_history_error(history));
    } else {
        bool sound = book_ask_is_sound(&a->ask, history);
        json_t *json = records_json(&records, &(struct records_head){.station = kr_history_station(history),
                                                                     .made_at = at,
                                                                     .length_unit = a->ask.length_unit,
                                                                     .tolerance_um = a->ask.tolerance_um,
                                                                     .sound = sound});
        if (json == NULL)
            fprintf(stderr, "kniferail records: out of memory\n");
        else if (write_out(a, json) && sound)
            status = KR_EXIT_OK;
        json_decref(json);
    }
    records_free(&records);
    return status;
}

int kr_cmd_records(int argc, char **argv)
{
    struct arguments arguments = {.ask.command = "records"};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    struct kr_history *history = book_ask_open(&arguments.ask);
    if (history == NULL)
        return KR_EXIT_REFUSED;
    int status = tell(&arguments, history);
    kr_history_close(history);
    return kr_flushed(status);
}
