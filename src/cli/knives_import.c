#include "knives_import.h"

#include <errno.h>
#include <pwd.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "cli.h"
#include "knife_rows.h"

struct import {
    const char *list;
    const struct knife_rows *rows;
};

static void refuse(void *arg, size_t row, enum kr_knife_column column, const char *why)
{
    const struct import *import = arg;
    knife_row_tell(&import->rows->row[row], column, why, import->list, stderr);
}

/* For the audit, returns who is logged in at this computer. */
static void who_asks(char *who, size_t size)
{
    const struct passwd *user = getpwuid(getuid());
    if (user != NULL)
        snprintf(who, size, "user %.40s", user->pw_name);
    else
        snprintf(who, size, "user %u", (unsigned)getuid());
}

static int64_t now_utc_ms(void)
{
    struct timespec now;
    return clock_gettime(CLOCK_REALTIME, &now) == 0 ? (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000 : 0;
}

static int take(const char *book, const char *station, const char *list, const struct knife_rows *rows)
{
    char who[KR_AUDIT_WHO_MAX];
    struct kr_care_error error;
    struct import import = {list, rows};
    who_asks(who, sizeof who);
    struct kr_knife_taking taking = {.path = book,
                                     .station = station,
                                     .list = list,
                                     .who = who,
                                     .now_utc_ms = now_utc_ms(),
                                     .refuse = refuse,
                                     .arg = &import};
    size_t knives = 0;
    for (size_t i = 0; i < rows->n; i++)
        knives += rows->row[i].record == KR_RECORD_KNIFE;
    if (!kr_book_take_knives(&taking, rows->row, rows->n, &error)) {
        if (error.text[0] != '\0')
            fprintf(stderr, "kniferail knives: %s: %s\n", book, error.text);
        fprintf(stderr, "kniferail knives: nothing of %s is imported\n", list);
        return KR_EXIT_REFUSED;
    }
    printf("%s: %zu knives, and %zu rows about their grinds and breaks, are in the ledger of station %s\n", list,
           knives, rows->n - knives, station);
    return kr_flushed(KR_EXIT_OK);
}

int knives_import(const char *book, const char *station, const char *list)
{
    bool standard = strcmp(list, "-") == 0;
    struct knife_rows rows;
    FILE *file = standard ? stdin : fopen(list, "r");
    if (file == NULL) {
        fprintf(stderr, "kniferail knives: %s: %s\n", list, strerror(errno));
        return KR_EXIT_REFUSED;
    }
    int status = KR_EXIT_REFUSED;
    if (knife_rows_read(file, list, stderr, &rows))
        status = take(book, station, list, &rows);
    else
        fprintf(stderr, "kniferail knives: nothing of %s is imported\n", list);
    knife_rows_free(&rows);
    if (!standard)
        fclose(file);
    return status;
}
