#include "stretch.h"

#include <string.h>

#include "integers.h"
#include "try.h"

/* The changes of the cost if a cut goes from its holder to the next one; the arrays are indexed by cut. */
struct growth {
    int16_t now[KR_CUTS_MAX], next[KR_CUTS_MAX]; /* present holder and next holder of each cut */
    /* Change for the cut itself, and between it and the following cut if that goes, too. */
    int64_t own_us[KR_CUTS_MAX];
    int64_t head_us[KR_CUTS_MAX]; /* between it and the cut before, if that one stays */
    int64_t tail_us[KR_CUTS_MAX]; /* between it and the following one, if that one stays */
};

static int64_t between_us(struct search_room *w, const struct rail *r, int i, int j, int next)
{
    return i < next ? path_between_us(&w->path, r, i, j, next) : NEVER;
}

static int64_t less(int64_t us, int64_t now_us)
{
    return us >= NEVER || now_us >= NEVER ? NEVER : us - now_us;
}

static int64_t sum(int64_t a, int64_t b)
{
    return a >= NEVER || b >= NEVER ? NEVER : a + b;
}

static void find_holders(const struct rail *r, const struct choice *c, int step, struct growth *g)
{
    for (int i = 0; i < r->n; i++) {
        if (c->cut[i] == IDLE)
            continue;
        int next = i + step;
        g->now[c->cut[i]] = (int16_t)i;
        g->next[c->cut[i]] = (int16_t)(next >= 0 && next < r->n && r->at[next].may_cut ? next : -1);
    }
}

static void growth_make(struct search_room *w, const struct rail *r, int step, struct growth *g)
{
    const struct cost *cost = w->path.cost;
    int n = r->n_cuts;
    find_holders(r, &w->best.choice, step, g);
    for (int j = 0; j < n; j++) {
        int now = g->now[j], next = g->next[j], before = j > 0 ? g->now[j - 1] : NOBODY,
            after = j + 1 < n ? g->now[j + 1] : r->n;
        g->own_us[j] = g->head_us[j] = g->tail_us[j] = NEVER;
        if (next < 0)
            continue;
        int64_t after_us = between_us(w, r, now, j, after);
        g->head_us[j] = less(between_us(w, r, before, j - 1, next), between_us(w, r, before, j - 1, now));
        g->tail_us[j] =
            sum(less(cost->cut_us[next][j], cost->cut_us[now][j]), less(between_us(w, r, next, j, after), after_us));
        if (j + 1 < n && g->next[j + 1] >= 0)
            g->own_us[j] = sum(less(cost->cut_us[next][j], cost->cut_us[now][j]),
                               less(between_us(w, r, next, j, g->next[j + 1]), after_us));
    }
}

struct stretch {
    int64_t us;
    int16_t first, last, step;
};

#define STRETCHES 32

/* The least first. */
static void keep(struct stretch list[], int *n, int most, struct stretch s)
{
    int at = *n;
    if (at == most && list[at - 1].us <= s.us)
        return;
    if (at == most)
        at--;
    else
        (*n)++;
    for (; at > 0 && list[at - 1].us > s.us; at--)
        list[at] = list[at - 1];
    list[at] = s;
}

static void list_stretches(struct search_room *w, const struct rail *r, int step, struct stretch list[], int *n,
                           int most)
{
    struct growth g = {0};
    w->path.work = 0;
    growth_make(w, r, step, &g);
    w->steps -= w->path.work / CELLS_A_STEP;
    for (int first = 0; first < r->n_cuts; first++) {
        int64_t us = g.head_us[first];
        for (int last = first; last < r->n_cuts && us < NEVER; us = sum(us, g.own_us[last]), last++) {
            int64_t all = sum(us, g.tail_us[last]);
            if (all < NEVER)
                keep(
                    list, n, most,
                    (struct stretch){.us = all, .first = (int16_t)first, .last = (int16_t)last, .step = (int16_t)step});
        }
    }
    w->steps -= INT64_C(4) * r->n + (int64_t)r->n_cuts * r->n_cuts / 4;
}

static bool try_stretch(struct search_room *w, const struct rail *r, const struct stretch *s)
{
    struct choice c;
    const struct choice *best = &w->best.choice;
    int low = r->n, high = -1;
    choice_copy(r, &c, best);
    for (int i = 0; i < r->n; i++) {
        int cut = best->cut[i];
        if (cut < s->first || cut > s->last)
            continue;
        int next = i + s->step;
        low = (int)min_i64(low, min_i64(i, next));
        high = max_int(high, max_int(i, next));
    }
    for (int i = low; i <= high; i++) {
        c.cut[i] = IDLE;
        c.want[i] = 0;
        c.goal[i] = NOWHERE;
    }
    for (int i = 0; i < r->n; i++) {
        if (best->cut[i] >= s->first && best->cut[i] <= s->last)
            c.cut[i + s->step] = best->cut[i];
    }
    return try_near(w, r, &c, low, high);
}

bool stretch_once(struct search_room *w, const struct rail *r, int most)
{
    struct stretch list[STRETCHES] = {{0}};
    int n = 0;
    path_sums(&w->path, r, &w->price.cost);
    for (int step = -1; step <= 1; step += 2)
        list_stretches(w, r, step, list, &n, most);
    for (int k = 0; k < n && w->steps > 0; k++) {
        if (try_stretch(w, r, &list[k]))
            return true;
    }
    return false;
}
