#include "crowd.h"

#include <string.h>

#include "integers.h"

#define IMPOSSIBLE_US (INT32_C(1) << 30)

bool crowd_is_there(const struct rail *r)
{
    for (int i = 0; i + 1 < r->n; i++) {
        if (r->at[i + 1].p + r->deadband < r->at[i].p - r->deadband + r->at[i].gap)
            return true;
    }
    return false;
}

bool crowd_is_pushed(const struct crowd *w, const struct rail *r, int first, int last)
{
    for (int i = first; i < last; i++) {
        if (w->at[i + 1] + r->deadband < w->at[i] - r->deadband)
            return true;
    }
    return false;
}

/* ---- the cost of a place ----------------------------------------------------------------------------------------- */

/* Returns the cost of holder i if it moves there. */
static int32_t move_us(const struct crowd *w, const struct rail *r, int i, int64_t at)
{
    if (!r->at[i].may_move || at == w->at[i])
        return IMPOSSIBLE_US;
    int64_t us = r->handling_us + rail_drag_us(r, i, at + w->reach[i]) + w->approach_us[i];
    return us < IMPOSSIBLE_US ? (int32_t)us : IMPOSSIBLE_US;
}

/* Returns the least cost of holder i, beyond its cost at rest, if it ends there. The deadband shortens its way as much
 * as it may. */
static int64_t least_at(const struct rail *r, const struct crowd *w, int i, int64_t at, int64_t more_us)
{
    int64_t way = at - w->at[i], slack = 2 * r->deadband;
    if (abs_i64(way) <= slack)
        return 0;
    if (!r->at[i].may_move)
        return IMPOSSIBLE_US;
    way += way > 0 ? -slack : slack;
    return max_i64(0, r->handling_us + rail_drag_us(r, i, r->at[i].p + way) + w->approach_us[i] + more_us);
}

static void sort(struct crowd *w, int n)
{
    for (int i = 0; i < n; i++) {
        int k = i;
        for (; k > 0 && w->at[w->sorted[k - 1]] > w->at[i]; k--)
            w->sorted[k] = w->sorted[k - 1];
        w->sorted[k] = (int16_t)i;
    }
}

void crowd_make(struct crowd *w, const struct rail *r, const struct cost *cost)
{
    int64_t reach = 0;
    for (int i = 0; i < r->n; i++) {
        w->reach[i] = reach;
        w->at[i] = r->at[i].p - reach;
        w->approach_us[i] = cost->approach_us[i];
        reach += r->at[i].gap;
    }
    sort(w, r->n);
    for (int i = 0; i < r->n; i++) {
        for (int k = 0; k < r->n; k++) {
            w->us[i][k] = move_us(w, r, i, w->at[k]);
            w->least_us[i][k] = clamp_i32(least_at(r, w, i, w->at[k], 0));
        }
    }
}

/* ---- one run --------------------------------------------------------------------------------------------------- */

/* The owner of a place that is no holder's start: a limit of the run, or a place where a staying holder may be
 * counted. */
enum { LIMIT = -1, COUNTED = -2 };

static const struct crowd_state never = {.us = NEVER};

static int64_t cut_at(const struct crowd *w, const struct rail *r, const struct choice *c, int i)
{
    return rail_target(r, i, c->cut[i]) - w->reach[i];
}

static void bound_run(const struct crowd *w, const struct rail *r, const struct choice *c, struct crowd_run *run)
{
    int left = run->first - 1, right = run->last + 1;
    run->low = r->min - w->reach[run->first];
    run->high = r->max - w->reach[run->last];
    if (left >= 0)
        run->low = cut_at(w, r, c, left);
    else if (r->outside && right < r->n)
        run->high = min_i64(run->high, r->web_left - w->reach[run->last]);
    if (right < r->n)
        run->high = min_i64(run->high, cut_at(w, r, c, right));
    else if (r->outside && left >= 0)
        run->low = max_i64(run->low, r->web_right - w->reach[run->first]);
}

static void add_place(struct crowd_run *run, int64_t at, int whose)
{
    if (at < run->low || at > run->high || (run->n > 0 && run->place[run->n - 1] == at && whose == COUNTED))
        return;
    run->place[run->n] = at;
    run->whose[run->n++] = (int16_t)whose;
}

/* Merges two lists that are sorted in the same way. */
static void list_places(const struct crowd *w, const struct rail *r, struct crowd_run *run)
{
    run->n = 0;
    add_place(run, run->low, LIMIT);
    for (int s = 0, counted = 0; s < r->n; s++) {
        int k = w->sorted[s];
        if (k < run->first || k > run->last)
            continue;
        for (; counted < r->n && w->at[w->sorted[counted]] - r->deadband <= w->at[k]; counted++) {
            int q = w->sorted[counted];
            if (q >= run->first && q <= run->last && r->deadband > 0)
                add_place(run, w->at[q] - r->deadband, COUNTED);
        }
        add_place(run, w->at[k], k);
    }
    add_place(run, run->high, LIMIT);
}

static void better(struct crowd_state *best, struct crowd_state s)
{
    if (s.us < best->us)
        *best = s;
}

/* The best states of the holder before, up to a place: if it stays, if it moves, and if it moves no further than the
 * start of the next holder. */
struct before {
    int64_t at; /* start of that holder */
    struct crowd_state stays, moves, clear;
};

static void pass(struct before *before, const struct crowd_state stay[], const struct crowd_state move[], int s,
                 bool clear)
{
    better(&before->stays, (struct crowd_state){.us = stay[s].us, .from = (int16_t)s, .from_moves = false});
    better(&before->moves, (struct crowd_state){.us = move[s].us, .from = (int16_t)s, .from_moves = true});
    if (clear)
        before->clear = before->moves;
}

/* Returns the state of a holder that moves. It must keep its spacing from a holder that stays, unless it starts
 * there. */
static struct crowd_state moving(const struct crowd *w, const struct rail *r, const struct crowd_run *run, int i, int s,
                                 const struct before *before)
{
    struct crowd_state to = before->moves;
    int64_t us;
    if (w->at[i] < before->at || run->place[s] >= before->at)
        better(&to, before->stays);
    if (run->whose[s] == COUNTED)
        return never;
    us = run->whose[s] == LIMIT ? move_us(w, r, i, run->place[s]) : w->us[i][run->whose[s]];
    to.us = us < IMPOSSIBLE_US && to.us < NEVER ? to.us + us : NEVER;
    return to;
}

static struct crowd_state staying(const struct before *before)
{
    struct crowd_state to = before->stays;
    better(&to, before->clear);
    return to;
}

/* Computes the states of holder i from those of the holder before it, which starts at before_at. */
static void extend(struct crowd *w, const struct rail *r, int i, int want, const struct crowd_state stay[],
                   const struct crowd_state move[], int64_t before_at)
{
    struct crowd_run *run = &w->run;
    struct before before = {.at = before_at, .stays = never, .moves = never, .clear = never};
    for (int s = 0; s < run->n; s++) {
        int64_t x = run->place[s];
        bool may_stay = abs_i64(x - w->at[i]) <= r->deadband && want <= 0;
        pass(&before, stay, move, s, x <= w->at[i] || before_at > w->at[i]);
        run->move[i][s] = want < 0 ? never : moving(w, r, run, i, s, &before);
        run->stay[i][s] = may_stay ? staying(&before) : never;
    }
}

/* Computes the states of the first holder from the end of its left neighbour: a holder that cuts, or the rail's end. */
static void begin_run(struct crowd *w, const struct rail *r, const struct choice *c)
{
    struct crowd_run *run = &w->run;
    struct crowd_state stay[CROWD_PLACES], move[CROWD_PLACES];
    int left = run->first - 1;
    for (int s = 0; s < run->n; s++)
        stay[s] = move[s] = never;
    bool stays = left >= 0 && abs_i64(cut_at(w, r, c, left) - w->at[left]) <= r->deadband;
    (stays ? stay : move)[0].us = 0;
    extend(w, r, run->first, c->want[run->first], stay, move, left >= 0 ? w->at[left] : NOWHERE);
}

/* Returns the least state of the last holder that leaves room for the right neighbour. */
static struct crowd_state end_run(const struct crowd *w, const struct rail *r, const struct choice *c,
                                  const struct crowd_run *run)
{
    struct crowd_state best = never;
    int right = run->last + 1;
    bool stays = right < r->n && abs_i64(cut_at(w, r, c, right) - w->at[right]) <= r->deadband;
    int64_t at = w->at[run->last], next = right < r->n ? w->at[right] : 0;
    for (int s = 0; s < run->n; s++) {
        if (right == r->n || stays || run->high >= at || next < at)
            better(&best,
                   (struct crowd_state){.us = run->stay[run->last][s].us, .from = (int16_t)s, .from_moves = false});
        if (!stays || run->place[s] <= next || at > next)
            better(&best,
                   (struct crowd_state){.us = run->move[run->last][s].us, .from = (int16_t)s, .from_moves = true});
    }
    return best;
}

static void settle_run(struct crowd *w, const struct rail *r, struct choice *c)
{
    struct crowd_run *run = &w->run;
    bound_run(w, r, c, run);
    if (run->low > run->high)
        return;
    list_places(w, r, run);
    begin_run(w, r, c);
    for (int i = run->first + 1; i <= run->last; i++)
        extend(w, r, i, c->want[i], run->stay[i - 1], run->move[i - 1], w->at[i - 1]);
    struct crowd_state s = end_run(w, r, c, run);
    if (s.us >= NEVER)
        return;
    for (int i = run->last; i >= run->first; i--) {
        c->crowd[i].moves = s.from_moves ? 1 : -1;
        c->crowd[i].x = s.from_moves ? run->place[s.from] + w->reach[i] : NOWHERE;
        s = (s.from_moves ? run->move : run->stay)[i][s.from];
    }
}

/* Lists the starts of the run's holders within its limits, in ascending order. */
static int list_starts(const struct crowd *w, const struct rail *r, int first, int last, int64_t low, int64_t high,
                       int16_t whose[])
{
    int n = 0;
    for (int s = 0; s < r->n; s++) {
        int k = w->sorted[s];
        if (k >= first && k <= last && w->at[k] > low && w->at[k] < high)
            whose[n++] = (int16_t)k;
    }
    return n;
}

int64_t crowd_least_us(const struct crowd *w, const struct rail *r, int first, int last, int64_t low, int64_t high,
                       const int64_t more_us[], int64_t *work)
{
    int16_t whose[KR_HOLDERS_MAX];
    int64_t sum[KR_HOLDERS_MAX + 2] = {0}, least = NEVER; /* at low, at each start, at high */
    int n = list_starts(w, r, first, last, low, high, whose);
    bool is_low = low > NO_LIMIT, is_high = high < NOWHERE;
    for (int i = first; i <= last; i++) {
        least = is_low ? sum[0] : NEVER;
        if (is_low)
            sum[0] += least_at(r, w, i, low, more_us[i]);
        for (int s = 0; s < n; s++) {
            int64_t us = w->least_us[i][whose[s]];
            least = min_i64(least, sum[s + 1]);
            sum[s + 1] = least + (us > 0 ? max_i64(0, us + more_us[i]) : 0);
        }
        if (is_high)
            sum[n + 1] = min_i64(least, sum[n + 1]) + least_at(r, w, i, high, more_us[i]);
    }
    *work += (int64_t)(last - first + 1) * (n + 8);
    least = is_low ? sum[0] : NEVER;
    for (int s = 1; s <= n + is_high; s++)
        least = min_i64(least, sum[s]);
    return least;
}

/* ---- all runs -------------------------------------------------------------------------------------------------- */

void crowd_leave(struct choice *c, int first, int last)
{
    for (int i = first; i <= last; i++)
        c->crowd[i] = (struct crowded){.moves = 0, .x = NOWHERE};
}

/* Settles the run that begins at first and ends no later than `to'. Returns its last holder. */
static int settle_from(struct crowd *w, const struct rail *r, struct choice *c, int first, int to, int64_t *work)
{
    struct crowd_run *run = &w->run;
    int64_t n;
    run->first = run->last = first;
    while (run->last < to && c->cut[run->last + 1] == IDLE)
        run->last++;
    n = run->last - first + 1;
    crowd_leave(c, first, run->last);
    *work += n / 8;
    if (crowd_is_pushed(w, r, first, run->last)) {
        *work += n * n / 16;
        settle_run(w, r, c);
    }
    return run->last;
}

void crowd_settle(struct crowd *w, const struct rail *r, struct choice *c, int *first, int *last, int64_t *work)
{
    while (*first > 0 && c->cut[*first - 1] == IDLE)
        (*first)--;
    while (*last + 1 < r->n && c->cut[*last + 1] == IDLE)
        (*last)++;
    for (int i = *first; i <= *last; i++) {
        if (c->cut[i] == IDLE)
            i = settle_from(w, r, c, i, *last, work);
        else
            crowd_leave(c, i, i);
    }
}
