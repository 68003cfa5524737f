/* The table of steps, and which of them a changed setting makes doubtful. */
#include "kniferail/commission.h"

#include <string.h>

static const struct kr_step steps[] = {
#define STEP(name, scope, title, caution, what, settings) {#name, KR_STEP_##scope, title, caution, what, settings},
#include "kniferail/commission.def"
};

const struct kr_step *kr_step(size_t id)
{
    return id < KR_STEP_COUNT ? &steps[id] : NULL;
}

/* Tells whether a name matches a pattern of n characters. A '*' at its end stands for any further characters. */
static bool matches(const char *pattern, size_t n, const char *name)
{
    bool begins = n > 0 && pattern[n - 1] == '*';
    size_t length = begins ? n - 1 : n, has = strlen(name);
    return (begins ? has >= length : has == length) && memcmp(pattern, name, length) == 0;
}

/* Returns the name behind "rail 2: ", and the number of the rail; without a rail it returns the whole name, and number
 * 0. */
static const char *without_rail(const char *setting, unsigned *number)
{
    static const char rail[] = "rail ";
    *number = 0;
    if (strlen(setting) < sizeof rail || memcmp(setting, rail, sizeof rail - 1) != 0)
        return setting;
    const char *at = setting + sizeof rail - 1;
    for (; *at >= '0' && *at <= '9' && *number < 1000; at++)
        *number = 10 * *number + (unsigned)(*at - '0');
    return at[0] == ':' && at[1] == ' ' ? at + 2 : setting;
}

bool kr_step_stands_on(const struct kr_step *step, uint16_t rail_number, const char *setting)
{
    unsigned of_rail;
    const char *name = without_rail(setting, &of_rail);
    if (of_rail != 0 && rail_number != 0 && of_rail != rail_number)
        return false;
    for (const char *at = step->settings; *at != '\0';) {
        size_t n = 0;
        while (at[n] != '\0' && at[n] != ' ')
            n++;
        if (matches(at, n, name))
            return true;
        at += n + (at[n] == ' ');
    }
    return false;
}

bool kr_step_needs_silence(enum kr_step_id id)
{
    return id == KR_STEP_PRODUCTION || id == KR_STEP_DOCKINGS || id == KR_STEP_CHANGEOVERS || id == KR_STEP_ALARMS;
}

/* CLEARANCE and EDGES set up an order where none is set up. */
static bool moves_station(enum kr_step_id id)
{
    return id == KR_STEP_REDUCED || id == KR_STEP_CLEARANCE || id == KR_STEP_EDGES || id == KR_STEP_PRODUCTION ||
           id == KR_STEP_CHANGEOVERS || id == KR_STEP_ALARMS;
}

bool kr_step_comes_first(enum kr_step_id first, enum kr_step_id later)
{
    return first < later && (moves_station(later) || (first == KR_STEP_SILENCE && kr_step_needs_silence(later)));
}
