#include "feasible.h"

#include "integers.h"

/* The states for each number of cuts made by the holders so far: the least ends of the last holder, if it stays and if
 * it moves. */
struct row {
    struct end stay[KR_CUTS_MAX + 1], move[KR_CUTS_MAX + 1];
};

static const struct end none = {.x = NOWHERE, .moved = false};

static bool possible(struct end e)
{
    return e.x < NOWHERE;
}

static void keep_least(struct end *best, struct end e)
{
    if (possible(e) && (!possible(*best) || e.x < best->x))
        *best = e;
}

static void clear(const struct rail *r, struct row *row)
{
    for (int j = 0; j <= r->n_cuts; j++)
        row->stay[j] = row->move[j] = none;
}

static void extend_idle(const struct rail *r, int i, struct end left, struct row *next, int j)
{
    keep_least(&next->stay[j], rail_least_stay(r, i, left));
    keep_least(&next->move[j], rail_least_move(r, i, left));
}

static void extend_cut(const struct rail *r, int i, struct end left, struct row *next, int j)
{
    int64_t target = rail_target(r, i, j);
    keep_least(&next->stay[j + 1], rail_cut_stay(r, i, target, left));
    keep_least(&next->move[j + 1], rail_cut_move(r, i, target, left));
}

static void extend(const struct rail *r, int i, struct end left, struct row *next, int j)
{
    if (i > 0 && !possible(left))
        return;
    extend_idle(r, i, left, next, j);
    if (j < r->n_cuts && r->at[i].may_cut)
        extend_cut(r, i, left, next, j);
}

/* Drops the states that leave more cuts than the holders in service from i on could make. */
static void drop_hopeless(const struct rail *r, int i, struct row *row)
{
    int left = 0;
    for (int k = i; k < r->n; k++)
        left += r->at[k].may_cut;
    for (int j = 0; j < r->n_cuts - left; j++)
        row->stay[j] = row->move[j] = none;
}

/* Adds one more holder. False: nothing is possible with it. */
static bool step(const struct rail *r, int i, const struct row *row, struct row *next)
{
    bool any = false;
    clear(r, next);
    for (int j = 0; j <= r->n_cuts && j <= i; j++) {
        extend(r, i, row->stay[j], next, j);
        if (i > 0)
            extend(r, i, row->move[j], next, j);
    }
    drop_hopeless(r, i + 1, next);
    for (int j = 0; j <= r->n_cuts && j <= i + 1; j++)
        any = any || possible(next->stay[j]) || possible(next->move[j]);
    return any;
}

/* Adds holders as long as anything is possible. Returns their number; *row is the row of the last one. */
static int sweep(const struct rail *r, struct row *row)
{
    struct row next;
    clear(r, row);
    for (int i = 0; i < r->n; i++) {
        if (!step(r, i, row, &next))
            return i;
        *row = next;
    }
    return r->n;
}

bool feasible(const struct rail *r)
{
    struct row row;
    if (r->n == 0)
        return r->n_cuts == 0;
    return sweep(r, &row) == r->n && (possible(row.stay[r->n_cuts]) || possible(row.move[r->n_cuts]));
}

/* ---- the reason ---------------------------------------------------------------------------------------- */

static struct kr_result refuse(enum kr_code code, int item, int64_t value, int64_t limit)
{
    return (struct kr_result){
        .code = code, .item = (uint16_t)item, .value = clamp_i32(value), .limit = clamp_i32(limit)};
}

static int number_of(const struct rail *r, int i)
{
    return r->at[i].index + 1;
}

static const struct kr_result fine = {.code = KR_OK};

static struct kr_result judge_order(const struct rail *r)
{
    for (int i = 1; i < r->n; i++) {
        if (r->at[i].p < r->at[i - 1].p)
            return refuse(KR_HOLDERS_DISORDERED, number_of(r, i), r->at[i].p, r->at[i - 1].p);
    }
    return fine;
}

static struct kr_result judge_count(const struct rail *r)
{
    int in_service = 0;
    for (int i = 0; i < r->n; i++)
        in_service += r->at[i].may_cut;
    if (in_service >= r->n_cuts)
        return fine;
    return refuse(KR_TOO_FEW_HOLDERS, 0, in_service, r->n_cuts);
}

/* Returns how far beyond a limit holder i would have to go to make cut j; 0 if it need not. */
static int64_t beyond(const struct rail *r, int i, int j, struct kr_result *why)
{
    int64_t x = rail_target(r, i, j), low = x, high = x;
    if (abs_i64(x - r->at[i].p) > r->deadband) {
        low = min_i64(x, rail_low(r, i, x));
        high = max_i64(x, rail_high(r, i, x));
        if (low == r->at[i].p)
            low = x; /* it need not go to the place where it starts */
        if (high == r->at[i].p)
            high = x;
    }
    if (low < r->min) {
        *why = refuse(KR_CUT_OFF_RAIL, j + 1, low, r->min);
        return r->min - low;
    }
    *why = refuse(KR_CUT_OFF_RAIL, j + 1, high, r->max);
    return max_i64(0, high - r->max);
}

static struct kr_result judge_limits(const struct rail *r)
{
    for (int j = 0; j < r->n_cuts; j++) {
        struct kr_result nearest = fine, why;
        int64_t least = NOWHERE;
        for (int i = 0; i < r->n; i++) {
            int64_t by = r->at[i].may_cut ? beyond(r, i, j, &why) : NOWHERE;
            if (by < least) {
                least = by;
                nearest = why;
            }
        }
        if (least > 0)
            return nearest;
    }
    return fine;
}

/* Cuts j and j + 1 need two holders in service; the best pair are neighbours in service. */
static struct kr_result judge_cut_pair(const struct rail *r, int j, int slit)
{
    struct kr_result nearest = fine;
    int64_t least = NOWHERE;
    for (int i = 0, left = -1; i < r->n; i++) {
        if (!r->at[i].may_cut)
            continue;
        if (left >= 0) {
            int64_t need = 0, have = rail_target(r, i, j + 1) - rail_target(r, left, j);
            for (int k = left; k < i; k++)
                need += r->at[k].gap;
            if (need - have < least) {
                least = need - have;
                nearest = refuse(KR_SLIT_TOO_NARROW, slit + 1, have, need);
            }
        }
        left = i;
    }
    return least > 0 ? nearest : fine;
}

static struct kr_result judge_slits(const struct rail *r)
{
    for (int j = 0; j + 1 < r->n_cuts; j++) {
        struct kr_result result = judge_cut_pair(r, j, r->first_slit + j);
        if (result.code != KR_OK)
            return result;
    }
    return fine;
}

/* ---- the room of idle holders ---------------------------------------------------------------------------------- */

/* Returns the least place of holder i if it idles. The row is that of the holders before it, which make j cuts.
 * NOWHERE: they cannot. */
static int64_t least_idle(const struct rail *r, int i, const struct row *row, int j)
{
    const struct end lefts[2] = {row->stay[j], row->move[j]};
    int64_t least = NOWHERE;
    if (i == 0)
        return j == 0 ? min_i64(rail_least_stay(r, 0, none).x, rail_least_move(r, 0, none).x) : NOWHERE;
    for (int k = 0; k < 2; k++) {
        if (possible(lefts[k]))
            least = min_i64(least, min_i64(rail_least_stay(r, i, lefts[k]).x, rail_least_move(r, i, lefts[k]).x));
    }
    return least;
}

/* For every holder and number of cuts, on a rail without an end, because the question is how far beyond the end a
 * holder would be. */
static void least_make(const struct rail *r, int64_t least[][KR_CUTS_MAX + 1])
{
    struct rail endless = *r;
    struct row row, next;
    endless.max = NOWHERE / 2;
    clear(r, &row);
    for (int i = 0; i < r->n; i++) {
        for (int j = 0; j <= r->n_cuts; j++)
            least[i][j] = least_idle(&endless, i, &row, j);
        (void)step(&endless, i, &row, &next);
        row = next;
    }
}

static void rooms_make(struct rooms *rooms, const struct rail *r)
{
    struct rail mirrored;
    rail_mirror(&mirrored, r);
    least_make(r, rooms->from_left);
    least_make(&mirrored, rooms->from_right);
}

/* The room of holder i if it idles: from the least place that its left side allows to the greatest place that its right
 * side allows, for the best number of cuts to its left. */
struct room {
    int64_t low, high;
    /* How far low is above high, or how far the holder's own place is outside of both; 0: there is room. */
    int64_t lacks;
};

static struct room room_of(const struct rooms *rooms, const struct rail *r, int i)
{
    struct room best = {.lacks = NOWHERE};
    for (int j = 0; j <= r->n_cuts; j++) {
        struct room room = {.low = rooms->from_left[i][j], .high = -rooms->from_right[r->n - 1 - i][r->n_cuts - j]};
        room.lacks = max_i64(0, room.low - room.high);
        if (room.low < NOWHERE && room.high > -NOWHERE && room.lacks < best.lacks)
            best = room;
    }
    return best;
}

static struct kr_result fixed_lacks(struct rooms *rooms, const struct rail *freed, int i)
{
    rooms_make(rooms, freed);
    struct room room = room_of(rooms, freed, i);
    const struct site *s = &freed->at[i];
    int64_t right = room.low - s->p, left = s->p - room.high;
    if (right >= left && i > 0)
        return refuse(KR_FIXED_IN_THE_WAY, number_of(freed, i), freed->at[i - 1].gap - right, freed->at[i - 1].gap);
    return refuse(KR_FIXED_IN_THE_WAY, number_of(freed, i), s->gap - left, s->gap);
}

/* A fixed holder is in the way if everything would be possible with that holder free to move. */
static struct kr_result judge_fixed(struct rooms *rooms, const struct rail *r)
{
    struct rail freed = *r;
    for (int i = 0; i < r->n; i++)
        freed.at[i].may_move = true;
    if (!feasible(&freed))
        return fine;
    for (int i = 0; i < r->n; i++) {
        freed.at[i].may_move = r->at[i].may_move;
        if (r->at[i].may_move || feasible(&freed))
            continue;
        freed.at[i].may_move = true;
        return fixed_lacks(rooms, &freed, i);
    }
    return fine;
}

/* Finds the holder that lacks the least room, and among equal ones a holder that cannot cut before one that could. */
static struct kr_result judge_room(struct rooms *rooms, const struct rail *r)
{
    struct room least = {.lacks = NOWHERE};
    int worst = r->n - 1;
    rooms_make(rooms, r);
    for (int turn = 0; turn < 2 && least.lacks == NOWHERE; turn++) {
        for (int i = 0; i < r->n; i++) {
            if (r->at[i].may_cut != (turn == 1) || !r->at[i].may_move)
                continue;
            struct room room = room_of(rooms, r, i);
            if (room.lacks > 0 && room.lacks < least.lacks) {
                least = room;
                worst = i;
            }
        }
    }
    return least.lacks == NOWHERE ? fine : refuse(KR_NO_ROOM_FOR_IDLE, number_of(r, worst), least.low, least.high);
}

/* Finds the smallest shortfall of the first holder that cannot be placed, whatever the holders to its left do. */
struct miss {
    int64_t by;
    struct kr_result why;
};

static void note(struct miss *m, int64_t by, struct kr_result why)
{
    if (by < m->by)
        *m = (struct miss){.by = by, .why = why};
}

static void miss_rest(const struct rail *r, int i, struct end left, struct miss *m)
{
    int64_t x = i > 0 ? left.x + r->at[i - 1].gap : r->min, most = r->max;
    if (!r->at[i].may_move)
        most = r->at[i].p + r->deadband;
    else if (r->outside && x > r->web_left && x < r->web_right)
        x = r->web_right;
    if (x > most)
        note(m, x - most, refuse(KR_NO_ROOM_FOR_IDLE, number_of(r, i), x, most));
}

/* Either the two holders would end too near to each other, or one would sweep too near to the other. */
static void miss_cut(const struct rail *r, int i, int j, struct end left, struct miss *m)
{
    int64_t x = rail_target(r, i, j), need = r->at[i - 1].gap, have = x - left.x;
    if (have < need && j > 0 && left.x == rail_target(r, i - 1, j - 1)) {
        note(m, need - have, refuse(KR_SLIT_TOO_NARROW, r->first_slit + j, have, need));
        return;
    }
    if (have >= need && left.moved)
        have = max_i64(rail_low(r, i, x) - left.x, x - rail_high(r, i - 1, left.x));
    else if (have >= need)
        have = rail_low(r, i, x) - r->at[i - 1].p;
    if (have >= need && left.moved) /* the way of the first one is too near, not the end of the second one */
        have = max_i64(r->at[i].p - rail_high(r, i - 1, left.x), rail_low(r, i, x) - r->at[i - 1].p);
    note(m, max_i64(0, need - have), refuse(KR_SPACING, number_of(r, i), have, need));
}

static struct kr_result judge_first_miss(const struct rail *r)
{
    struct row row;
    struct miss m = {.by = NOWHERE, .why = fine};
    int i = sweep(r, &row);
    for (int j = 0; j <= r->n_cuts && i < r->n; j++) {
        const struct end lefts[2] = {row.stay[j], row.move[j]};
        for (int k = 0; k < 2; k++) {
            if (i > 0 && !possible(lefts[k]))
                continue;
            miss_rest(r, i, lefts[k], &m);
            if (i > 0 && j < r->n_cuts && r->at[i].may_cut)
                miss_cut(r, i, j, lefts[k], &m);
        }
    }
    return m.by < NOWHERE ? m.why : refuse(KR_SPACING, 0, 0, r->n > 0 ? r->at[0].gap : 0);
}

struct kr_result feasible_judge(struct rooms *rooms, const struct rail *r)
{
    struct kr_result result = judge_order(r);
    if (result.code != KR_OK || feasible(r))
        return result;
    result = judge_count(r);
    if (result.code == KR_OK)
        result = judge_limits(r);
    if (result.code == KR_OK)
        result = judge_slits(r);
    if (result.code == KR_OK)
        result = judge_fixed(rooms, r);
    if (result.code == KR_OK)
        result = judge_room(rooms, r);
    if (result.code == KR_OK)
        result = judge_first_miss(r);
    return result;
}
