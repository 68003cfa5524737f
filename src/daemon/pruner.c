#include "pruner.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "log.h"

#define SOON_US  2000000
#define PAUSE_US 100000 /* pause between two transactions of a pass */
#define PASS_US  3600000000
#define DAY_MS   86400000LL
#define MB       1000000LL

void pruner_open(struct pruner *pruner, int64_t last_sign_utc_ms)
{
    *pruner = (struct pruner){.next_us = INT64_MAX, .known_us = clock_us()};
    pruner->known_utc_ms = last_sign_utc_ms != 0 ? last_sign_utc_ms : clock_utc_ms();
}

void pruner_set(struct pruner *pruner, const struct kr_config *config)
{
    bool kept = config->book_path[0] != '\0';
    int64_t keep_days = kept ? config->history_days : 0, most_bytes = kept ? config->history_mb * MB : 0;
    if (pruner->keep_days == keep_days && pruner->most_bytes == most_bytes)
        return;
    pruner->keep_days = keep_days;
    pruner->most_bytes = most_bytes;
    pruner->too_large_told = false;
    pruner->next_us = keep_days == 0 && most_bytes == 0 ? INT64_MAX : clock_us() + SOON_US;
}

void pruner_end(struct pruner *pruner)
{
    pruner->ended = true;
}

bool pruner_is_due(const struct pruner *pruner)
{
    return !pruner->ended && clock_us() >= pruner->next_us;
}

void pruner_begin(struct pruner *pruner)
{
    int64_t now_ms = clock_utc_ms(), sure_ms = pruner->known_utc_ms + (clock_us() - pruner->known_us) / 1000;
    pruner->before[0] = '\0';
    pruner->limits = (struct kr_care_limits){.most_bytes = pruner->most_bytes};
    if (pruner->keep_days == 0)
        return;
    kr_book_time_text((now_ms < sure_ms ? now_ms : sure_ms) - pruner->keep_days * DAY_MS, pruner->before);
    pruner->limits.before = pruner->before;
}

void pruner_run(struct pruner *pruner, struct kr_book *book)
{
    pruner->ok = kr_book_prune_few(book, &pruner->limits, &pruner->gone, &pruner->more, &pruner->error);
}

/* "changeover 12, alarm 310" */
static void write_rows(const struct kr_care_pruned *gone, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (int t = 0; t <= KR_CARE_TABLES && used < size; t++) {
        int64_t rows = t < KR_CARE_TABLES ? gone->rows[t] : gone->sessions;
        const char *table = t < KR_CARE_TABLES ? kr_care_table_name(t) : "session";
        int n = rows == 0 ? 0 : snprintf(text + used, size - used, "%s%s %" PRId64, used > 0 ? ", " : "", table, rows);
        used += n > 0 ? (size_t)n : 0;
    }
}

static void tell_pass(struct pruner *pruner, struct audit *audit)
{
    char rows[LOG_LINE_MAX / 2];
    write_rows(&pruner->gone, rows, sizeof rows);
    if (rows[0] != '\0') {
        audit_tell(audit, KR_AUDIT_GATEWAY, 0, "gateway", rows, "deletes history older than %s from the book",
                   pruner->gone.until);
        log_line(LOG_NOTICE, "history: rows older than %s were deleted, by the limits of the station file: %s",
                 pruner->gone.until, rows);
    }
    if (pruner->gone.too_large && !pruner->too_large_told)
        log_line(LOG_WARNING, "history: the rows that must be kept need more than history_mb (%" PRId64 " MB)",
                 (int64_t)(pruner->most_bytes / MB));
    pruner->too_large_told = pruner->gone.too_large;
    memset(&pruner->gone, 0, sizeof pruner->gone);
}

/* If a limit was changed meanwhile, the time of the next transaction is set already. */
void pruner_ended(struct pruner *pruner, struct audit *audit)
{
    bool goes_on = pruner->ok && pruner->more;
    if (!pruner->ok)
        log_line(LOG_WARNING, "history: %s", pruner->error.text);
    if (!goes_on)
        tell_pass(pruner, audit);
    if (clock_us() >= pruner->next_us)
        pruner->next_us = clock_us() + (goes_on ? PAUSE_US : PASS_US);
}
