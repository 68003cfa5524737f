#include "choice.h"

#include <string.h>

#include "crowd.h"
#include "integers.h"

static const struct end impossible = {.x = NOWHERE, .moved = false};

static struct end least_of(struct end a, struct end b)
{
    return b.x < a.x ? b : a;
}

static bool possible(struct end e)
{
    return e.x < NOWHERE;
}

static struct end stay_behind(const struct rail *r, int i, int cut, int want, struct end left)
{
    if (want > 0 || (i > 0 && !possible(left)))
        return impossible;
    return cut == IDLE ? rail_least_stay(r, i, left) : rail_cut_stay(r, i, rail_target(r, i, cut), left);
}

static struct end move_behind(const struct rail *r, int i, int cut, int want, struct end left)
{
    if (want < 0 || (i > 0 && !possible(left)))
        return impossible;
    return cut == IDLE ? rail_least_move(r, i, left) : rail_cut_move(r, i, rail_target(r, i, cut), left);
}

static int want_of(const struct rail *r, const struct choice *c, int i)
{
    return c->want[i] != 0 || r->crowd == NULL ? c->want[i] : c->crowd[i].moves;
}

static int64_t goal_of(const struct rail *r, const struct choice *c, int i)
{
    if (c->goal[i] != NOWHERE)
        return c->goal[i];
    return r->crowd != NULL && c->crowd[i].x != NOWHERE ? c->crowd[i].x : r->at[i].p;
}

/* ---- from right to left --------------------------------------------------------------------------------------- */

static struct end turned(struct end e)
{
    return (struct end){.x = -e.x, .moved = e.moved};
}

static bool is_same(struct end a, struct end b)
{
    return a.x == b.x && a.moved == b.moved;
}

/* The least ends on the mirrored rail are the greatest ends on the rail. True if anything changed. */
static bool reach_of(const struct rail *r, const struct rail *m, struct choice *c, int i)
{
    int mine = r->n - 1 - i, cut = c->cut[i] == IDLE ? IDLE : r->n_cuts - 1 - c->cut[i], want = want_of(r, c, i);
    struct end left_stay = impossible, left_move = impossible;
    if (mine > 0) {
        left_stay = turned(c->stay_reach[i + 1]);
        left_move = turned(c->move_reach[i + 1]);
    }
    struct end stay =
        turned(least_of(stay_behind(m, mine, cut, want, left_stay), stay_behind(m, mine, cut, want, left_move)));
    struct end move =
        turned(least_of(move_behind(m, mine, cut, want, left_stay), move_behind(m, mine, cut, want, left_move)));
    bool same = is_same(stay, c->stay_reach[i]) && is_same(move, c->move_reach[i]);
    c->stay_reach[i] = stay;
    c->move_reach[i] = move;
    return !same;
}

/* ---- from left to right --------------------------------------------------------------------------------------- */

/* Returns the place that is nearest to goal, not below low and not above high, and not the holder's start. low is the
 * least legal place. */
static int64_t nearest_rest(const struct rail *r, int i, int64_t goal, int64_t low, int64_t high)
{
    int64_t p = r->at[i].p, turn = r->max - (r->approach < 0 ? r->overtravel : 0);
    if (high > p && high > turn) /* to the right of its start the holder has to turn within the rail */
        high = max_i64(p, turn);
    int64_t left = rail_rest_left(r, i, min_i64(goal, high)), right = rail_rest_right(r, i, max_i64(goal, low));
    if (left == p)
        left = rail_rest_left(r, i, p - 1);
    if (right == p)
        right = rail_rest_right(r, i, max_i64(p + 1, low));
    if (right > high)
        right = NOWHERE;
    if (left < low)
        left = NO_LIMIT;
    if (right == NOWHERE && left == NO_LIMIT)
        return NOWHERE;
    return right - goal < goal - left ? right : left;
}

static struct end go(const struct rail *r, const struct choice *c, int i, struct end left)
{
    struct end e = move_behind(r, i, c->cut[i], want_of(r, c, i), left);
    if (!possible(e) || e.x > c->move_reach[i].x)
        return impossible;
    if (c->cut[i] == IDLE)
        e.x = nearest_rest(r, i, goal_of(r, c, i), e.x, c->move_reach[i].x);
    return e;
}

static struct end end_of(const struct rail *r, const struct choice *c, int i)
{
    struct end left = i > 0 ? c->end[i - 1] : impossible;
    struct end e = stay_behind(r, i, c->cut[i], want_of(r, c, i), left);
    if (!possible(e) || e.x > c->stay_reach[i].x)
        e = go(r, c, i, left);
    return e;
}

void choice_clear(struct choice *c)
{
    memset(c, 0, sizeof *c);
    for (int i = 0; i < KR_HOLDERS_MAX; i++) {
        c->cut[i] = IDLE;
        c->goal[i] = NOWHERE;
    }
    crowd_leave(c, 0, KR_HOLDERS_MAX - 1);
}

void choice_copy(const struct rail *r, struct choice *to, const struct choice *from)
{
    memcpy(to->cut, from->cut, r->n * sizeof *to->cut);
    memcpy(to->want, from->want, r->n * sizeof *to->want);
    memcpy(to->goal, from->goal, r->n * sizeof *to->goal);
    if (r->crowd != NULL)
        memcpy(to->crowd, from->crowd, r->n * sizeof *to->crowd);
    memcpy(to->ahead, from->ahead, r->n * sizeof *to->ahead);
    memcpy(to->end, from->end, r->n * sizeof *to->end);
    memcpy(to->stay_reach, from->stay_reach, r->n * sizeof *to->stay_reach);
    memcpy(to->move_reach, from->move_reach, r->n * sizeof *to->move_reach);
}

static bool settle(const struct rail *r, const struct rail *mirrored, struct choice *c)
{
    for (int i = r->n - 1; i >= 0; i--)
        reach_of(r, mirrored, c, i);
    for (int i = 0; i < r->n; i++) {
        c->end[i] = end_of(r, c, i);
        if (!possible(c->end[i]))
            return false;
    }
    return true;
}

bool choice_settle(const struct rail *r, const struct rail *mirrored, struct choice *c)
{
    int first = 0, last = r->n - 1;
    int64_t work = 0;
    if (r->crowd == NULL)
        return settle(r, mirrored, c);
    crowd_settle(r->crowd, r, c, &first, &last, &work);
    if (settle(r, mirrored, c))
        return true;
    crowd_leave(c, first, last); /* the holders of a run are in the way of others */
    return settle(r, mirrored, c);
}

static bool resettle(const struct rail *r, const struct rail *mirrored, struct choice *c, int first, int last,
                     int64_t *work)
{
    int from = last, i;
    for (; from >= 0; from--) {
        if (!reach_of(r, mirrored, c, from) && from <= first)
            break;
    }
    from = max_int(from, 0);
    for (i = from; i < r->n; i++) {
        struct end e = end_of(r, c, i);
        bool same = is_same(e, c->end[i]);
        c->end[i] = e;
        if (!possible(e) || (same && i > last))
            break;
    }
    *work += last - from + 1 + i - from;
    return i == r->n || possible(c->end[i]);
}

bool choice_resettle(const struct rail *r, const struct rail *mirrored, struct choice *c, int first, int last,
                     int64_t *work)
{
    if (r->crowd == NULL)
        return resettle(r, mirrored, c, first, last, work);
    crowd_settle(r->crowd, r, c, &first, &last, work);
    if (resettle(r, mirrored, c, first, last, work))
        return true;
    crowd_leave(c, first, last);
    *work += r->n;
    return settle(r, mirrored, c);
}

bool choice_is_legal(const struct rail *r, const struct choice *c)
{
    struct end left = impossible;
    for (int i = 0; i < r->n; i++) {
        struct end e = c->end[i];
        if (!e.moved)
            e = stay_behind(r, i, c->cut[i], 0, left);
        else if (c->cut[i] != IDLE)
            e = rail_cut_move(r, i, rail_target(r, i, c->cut[i]), left);
        else
            e = rail_idle_move(r, i, e.x, left);
        if (!possible(e))
            return false;
        left = e;
    }
    return true;
}
