#include "story_log.h"

#include "clock.h"
#include "log.h"

/* In real time, four carriages cause about 10 lines a second. Stops and requests are counted separately from the steps,
 * so that no flood of steps hides them. */
#define LIMITED_KINDS(X) \
    X(STEPS, 500, 20, "steps") \
    X(CAUSES, 200, 50, "what stopped something or was asked for")
enum limited {
#define X(name, lines, refill_ms, text) LIMITED_##name,
    LIMITED_KINDS(X)
#undef X
};
static const struct {
    struct kr_bucket_rate rate;
    const char *text;
} limited[] = {
#define X(name, lines, refill_ms, text) [LIMITED_##name] = {{lines, refill_ms}, text},
    LIMITED_KINDS(X)
#undef X
};

static void tell_left_out(const struct story_log *log, unsigned kind, uint64_t lines)
{
    log_line(LOG_NOTICE, "%s: %llu lines about %s were left out", log->name, (unsigned long long)lines,
             limited[kind].text);
}

static void tell(void *arg, int64_t utc_ms, uint16_t rail, bool important, const char *line)
{
    struct story_log *log = arg;
    unsigned kind = important ? LIMITED_CAUSES : LIMITED_STEPS;
    uint64_t left_out;
    (void)utc_ms; /* the log adds the time to its lines */
    if (!kr_bucket_take(&log->buckets, kind, "", limited[kind].rate, log->now_ms, &left_out))
        return;
    if (left_out > 0)
        tell_left_out(log, kind, left_out);
    if (rail != 0)
        log_line(LOG_STEP, "%s: %srail %u %s", log->name, important ? "! " : "", rail, line);
    else
        log_line(LOG_STEP, "%s: %s%s", log->name, important ? "! " : "", line);
}

void story_log_open(struct story_log *log, const struct kr_station_config *config)
{
    *log = (struct story_log){
        .name = config->name, .n_rails = config->geometry.n_rails, .length_unit = config->format.length_unit};
}

void story_log_switch(struct story_log *log, bool on)
{
    if (on && !log->on)
        kr_story_begin(&log->story, log->n_rails, log->length_unit, (struct kr_story_teller){tell, log});
    else if (!on && log->on)
        kr_story_end(&log->story);
    log->on = on;
}

void story_log_step(struct story_log *log, const struct kr_station_in *in, const struct kr_station_steps *steps)
{
    struct kr_bucket_told told;
    if (!log->on)
        return;
    log->now_ms = (uint64_t)clock_us() / 1000;
    kr_story_cycle(&log->story, clock_utc_ms(), in, steps);
    while (kr_bucket_tell(&log->buckets, log->now_ms, &told))
        tell_left_out(log, told.kind, told.left_out);
}
