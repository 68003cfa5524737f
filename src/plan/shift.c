#include "shift.h"

#include <string.h>

#include "try.h"
#include "whole.h"

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut. */
void shift_run(const struct choice *from, int a, int b, struct choice *to)
{
    int cut = from->cut[a], step = a < b ? 1 : -1;
    choice_clear(to);
    memcpy(to->cut, from->cut, sizeof to->cut);
    to->cut[a] = IDLE;
    for (int i = a + step; i != b + step; i += step) {
        if (to->cut[i] == IDLE && i != b)
            continue;
        int next = to->cut[i];
        to->cut[i] = (int16_t)cut;
        cut = next;
    }
}

static int64_t shift_cost_us(const struct cost *c, const struct rail *r, const struct choice *choice)
{
    int64_t us = 0;
    for (int i = 0, j = 0; i < r->n && us < NEVER; i++)
        us += choice->cut[i] == IDLE ? c->rest_us[i][j] : c->cut_us[i][j++];
    return us;
}

/* Tries b instead of a, unless what adds up grows by more than slack_us: the empty ways won't make up for that. */
static bool try_shift(struct search_room *w, const struct rail *r, int a, int b, int64_t slack_us)
{
    struct choice c;
    if (w->best.choice.cut[b] != IDLE || !r->at[b].may_cut)
        return false;
    shift_run(&w->best.choice, a, b, &c);
    w->steps -= r->n / 4;
    int64_t us = shift_cost_us(&w->cost, r, &c);
    if (us + w->cost.first_us >= try_worth_us(w) ||
        us > shift_cost_us(&w->cost, r, &w->best.choice) + slack_us)
        return false;
    return try_cuts(w, r, &c, true);
}

/* Nearest replacements first. */
static bool improve_by_shift(struct search_room *w, const struct rail *r, int a, int64_t slack_us)
{
    for (int away = 1; away < r->n && w->steps > 0; away++) {
        if ((a - away >= 0 && try_shift(w, r, a, a - away, slack_us)) ||
            (a + away < r->n && try_shift(w, r, a, a + away, slack_us)))
            return true;
    }
    return false;
}

void shift_improve(struct search_room *w, const struct rail *r, int64_t slack_us)
{
    for (int a = 0, idle = 0; idle < r->n && w->steps > 0; a = (a + 1) % r->n) {
        bool better = w->best.choice.cut[a] != IDLE && improve_by_shift(w, r, a, slack_us);
        idle = better ? 0 : idle + 1;
    }
}
