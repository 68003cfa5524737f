#include "progress.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define FIRST_MS 300
#define AGAIN_MS 200

/* ECMA-48: EL from the cursor to the end of the line. */
#define ERASE_LINE "\r\033[K"

static struct {
    const char *command, *what;
    bool is_terminal, is_shown;
    int64_t began_ms, next_ms;
} now;

static int64_t clock_ms(void)
{
    struct timespec at;
    return clock_gettime(CLOCK_MONOTONIC, &at) == 0 ? (int64_t)at.tv_sec * 1000 + at.tv_nsec / 1000000 : 0;
}

void kr_progress_begin(const char *command, const char *what)
{
    const char *kind = getenv("TERM");
    kr_progress_hide();
    now.command = command;
    now.what = what;
    now.is_terminal = isatty(STDERR_FILENO) && kind != NULL && kind[0] != '\0' && strcmp(kind, "dumb") != 0;
    now.began_ms = clock_ms();
    now.next_ms = now.began_ms + FIRST_MS;
}

void kr_progress_step(uint64_t done, const char *unit)
{
    int64_t at_ms = now.is_terminal ? clock_ms() : 0;
    if (!now.is_terminal || at_ms < now.next_ms)
        return;
    now.next_ms = at_ms + AGAIN_MS;
    now.is_shown = true;
    fprintf(stderr, ERASE_LINE "kniferail %s: %s, ", now.command, now.what);
    if (unit != NULL)
        fprintf(stderr, "%" PRIu64 " %s", done, unit);
    else
        fprintf(stderr, "%.1f s", (double)(at_ms - now.began_ms) / 1000);
    fflush(stderr);
}

void kr_progress_hide(void)
{
    if (now.is_shown)
        fputs(ERASE_LINE, stderr);
    now.is_shown = false;
}
