#include "shift.h"

#include <string.h>

#include "integers.h"
#include "stretch.h"
#include "try.h"

void shift_run(struct choice *c, int a, int b)
{
    int cut = c->cut[a], step = a < b ? 1 : -1;
    c->cut[a] = IDLE;
    for (int i = a + step; i != b + step; i += step) {
        if (c->cut[i] == IDLE && i != b)
            continue;
        int next = c->cut[i];
        c->cut[i] = (int16_t)cut;
        cut = next;
    }
    for (int i = a; i != b + step; i += step) {
        c->want[i] = 0;
        c->goal[i] = NOWHERE;
    }
}

/* ---- costs that add up ----------------------------------------------------------------------------------------- */

/* Returns the cost of a holder with one cut more or fewer to its left, if it keeps cutting or keeps idling. */
static int64_t cost_with(const struct cost *c, const struct rail *r, const struct choice *choice, int i, int left,
                         int more)
{
    int j = left + more;
    if (j < 0 || j > r->n_cuts || (choice->cut[i] != IDLE && j == r->n_cuts))
        return NEVER;
    return choice->cut[i] == IDLE ? c->rest_us[i][j] : c->cut_us[i][j];
}

/* Adds up from the left, so that the cost between two holders takes one subtraction. A holder for which the change is
 * impossible is counted apart, and the difference is then NEVER. */
static void sums_make(struct shift_sums *s, const struct cost *c, const struct rail *r, const struct choice *choice)
{
    s->fewer_us[0] = s->more_us[0] = 0;
    s->now_us = 0;
    s->never_fewer[0] = s->never_more[0] = 0;
    for (int i = 0, j = 0; i < r->n; i++) {
        int64_t now = cost_with(c, r, choice, i, j, 0), fewer = cost_with(c, r, choice, i, j, -1),
                more = cost_with(c, r, choice, i, j, 1);
        s->left[i] = (int16_t)j;
        s->now_us += now;
        s->fewer_us[i + 1] = s->fewer_us[i] + (fewer < NEVER ? fewer - now : 0);
        s->more_us[i + 1] = s->more_us[i] + (more < NEVER ? more - now : 0);
        s->never_fewer[i + 1] = (int16_t)(s->never_fewer[i] + (fewer >= NEVER));
        s->never_more[i + 1] = (int16_t)(s->never_more[i] + (more >= NEVER));
        j += choice->cut[i] != IDLE;
    }
}

/* Returns by how much the costs that add up grow if b cuts instead of a; NEVER: that is not possible. */
static int64_t growth_us(const struct shift_sums *s, const struct cost *c, const struct choice *choice, int a, int b)
{
    int cut = choice->cut[a], j = s->left[b];
    int64_t own = -c->cut_us[a][cut] - c->rest_us[b][j], rest, takes, between;
    if (a < b) {
        rest = c->rest_us[a][cut];
        takes = c->cut_us[b][j - 1];
        between = s->fewer_us[b] - s->fewer_us[a + 1];
        if (s->never_fewer[b] > s->never_fewer[a + 1])
            return NEVER;
    } else {
        rest = c->rest_us[a][cut + 1];
        takes = c->cut_us[b][j];
        between = s->more_us[a] - s->more_us[b + 1];
        if (s->never_more[a] > s->never_more[b + 1])
            return NEVER;
    }
    return rest >= NEVER || takes >= NEVER ? NEVER : own + rest + takes + between;
}

/* ---- the least growth first ------------------------------------------------------------------------------------ */

static bool is_before(const struct shift *a, const struct shift *b)
{
    if (a->us != b->us)
        return a->us < b->us;
    return a->a != b->a ? a->a < b->a : a->b < b->b;
}

/* A binary heap with the least element at index 0. */
static void sift_down(struct shift heap[], int n, int at)
{
    for (int child = 2 * at + 1; child < n; at = child, child = 2 * at + 1) {
        if (child + 1 < n && is_before(&heap[child + 1], &heap[child]))
            child++;
        if (!is_before(&heap[child], &heap[at]))
            return;
        struct shift t = heap[at];
        heap[at] = heap[child];
        heap[child] = t;
    }
}

static void list_make(struct search_room *w, const struct rail *r, int64_t slack_us)
{
    struct shift_list *l = &w->shifts;
    const struct choice *best = &w->best.choice;
    const struct cost *cost = w->ranking.cost;
    sums_make(&l->sums, cost, r, best);
    int64_t limit = min_i64(slack_us, try_worth_us(w) - w->ranking.once_us - l->sums.now_us - 1);
    l->n = 0;
    for (int a = 0; a < r->n; a++) {
        if (best->cut[a] == IDLE)
            continue;
        for (int b = 0; b < r->n; b++) {
            if (best->cut[b] != IDLE || !r->at[b].may_cut)
                continue;
            int64_t us = growth_us(&l->sums, cost, best, a, b);
            if (us <= limit)
                l->heap[l->n++] = (struct shift){.us = us, .a = (int16_t)a, .b = (int16_t)b};
        }
    }
    w->steps -= INT64_C(8) * r->n + (int64_t)r->n_cuts * (r->n - r->n_cuts) / 2 + l->n;
    for (int at = l->n / 2 - 1; at >= 0; at--)
        sift_down(l->heap, l->n, at);
}

/* Makes the shift that follows one from a to b: the holder before a, as seen from b, gives its cut to the idle holder
 * behind b. The two shifts together give each holder between them the cut after the next one, while one shift alone
 * leads nowhere. False: there is no such shift. */
static bool shift_again(const struct rail *r, struct choice *c, int *a, int *b)
{
    int step = *a < *b ? 1 : -1;
    for (*a += step; *a != *b && c->cut[*a] == IDLE;)
        *a += step;
    for (*b += step; *b >= 0 && *b < r->n && (c->cut[*b] != IDLE || !r->at[*b].may_cut);)
        *b += step;
    if (*b < 0 || *b >= r->n || c->cut[*a] == IDLE)
        return false;
    shift_run(c, *a, *b);
    return true;
}

static struct shift take_least(struct shift_list *l)
{
    struct shift least = l->heap[0];
    l->heap[0] = l->heap[--l->n];
    sift_down(l->heap, l->n, 0);
    return least;
}

bool shift_once(struct search_room *w, const struct rail *r, int64_t slack_us, int most)
{
    struct shift_list *l = &w->shifts;
    list_make(w, r, slack_us);
    for (; l->n > 0 && most > 0 && w->steps > 0; most--) {
        struct choice c;
        choice_copy(r, &c, &w->best.choice);
        struct shift s = take_least(l);
        w->steps -= r->n / 2;
        shift_run(&c, s.a, s.b);
        if (try_near(w, r, &c, s.a < s.b ? s.a : s.b, max_int(s.a, s.b)))
            return true;
    }
    return false;
}

bool shift_twice(struct search_room *w, const struct rail *r, int64_t slack_us, int most)
{
    struct shift_list *l = &w->shifts;
    list_make(w, r, slack_us);
    for (; l->n > 0 && most > 0 && w->steps > 0; most--) {
        struct choice c;
        choice_copy(r, &c, &w->best.choice);
        struct shift s = take_least(l);
        int a = s.a, b = s.b, first = a < b ? a : b, last = max_int(a, b);
        w->steps -= r->n;
        shift_run(&c, a, b);
        if (!shift_again(r, &c, &a, &b))
            continue;
        first = (int)min_i64(first, min_i64(a, b));
        last = max_int(last, max_int(a, b));
        if (try_near(w, r, &c, first, last))
            return true;
    }
    return false;
}

void shift_improve(struct search_room *w, const struct rail *r, int64_t slack_us)
{
    while (w->steps > 0 && shift_once(w, r, slack_us, INT32_MAX))
        continue;
}

/* ---- descent --------------------------------------------------------------------------------------------------- */

/* Ranks by the prices of the best choice's own sequence, which reflect the direction of the carriage's sweep
 * everywhere. */
static void rank_by_prices(struct search_room *w, const struct rail *r)
{
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    w->ranking.once_us = price_make(&w->price, &w->match, &w->moves, &w->cost, r, &w->steps);
    w->ranking.cost = &w->price.cost;
}

#define ANY_SLACK (INT64_MAX / 4)
#define MOST_ONCE 15 /* a shift that gains is among this many first ones in the ranking by prices */

void shift_descend(struct search_room *w, const struct rail *r)
{
    const struct ranking plain = w->ranking;
    shift_improve(w, r, 100000);
    shift_improve(w, r, 1000000);
    for (bool gains = true; gains && w->steps > 0;) {
        rank_by_prices(w, r);
        gains = shift_once(w, r, ANY_SLACK, MOST_ONCE) || shift_twice(w, r, ANY_SLACK, MOST_ONCE / 2) ||
                (r->crowd != NULL && stretch_once(w, r, MOST_ONCE));
        w->ranking = plain;
        if (gains)
            shift_improve(w, r, 100000);
    }
}
