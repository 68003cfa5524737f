#include "few.h"

#include <stdlib.h>

#include "ends.h"
#include "integers.h"
#include "try.h"

#define FEW        6 /* holders */
#define PLACES_MAX 256

bool few_is_there(const struct rail *r)
{
    return r->n <= FEW && crowd_is_there(r);
}

/* The places where an idle holder can end if it moves, and the least cost of each place. */
struct places {
    int n;
    int64_t x[PLACES_MAX], us[PLACES_MAX];
};

struct few {
    struct search_room *room;
    const struct rail *rail;
    struct choice choice;
    int64_t once_us;
    int64_t rest_us[FEW + 1]; /* least cost of the holders from this one on */
    int64_t left_us[FEW + 1]; /* least cost of the holders before this one */
    int64_t high[FEW];        /* greatest end of each one that leaves room for the holders to its right */
    struct places places[FEW];
};

/* ---- the places where an idle holder can end --------------------------------------------------------------------- */

static int64_t move_us(const struct few *f, int i, int64_t x)
{
    return f->rail->handling_us + rail_drag_us(f->rail, i, x) + price_move_us(&f->room->price, f->rail, i, x);
}

static void add_place(struct few *f, int i, int64_t x)
{
    struct places *s = &f->places[i];
    f->room->steps -= 1 + s->n / 8;
    if (x < f->room->cost.low[i] || x > f->high[i] || rail_rest_right(f->rail, i, x) != x)
        return;
    for (int k = 0; k < s->n; k++) {
        if (s->x[k] == x)
            return;
    }
    f->room->steps -= 4;
    int64_t us = move_us(f, i, x);
    if (s->n == PLACES_MAX || f->once_us + f->left_us[i] + us + f->rest_us[i + 1] >= try_worth_us(f->room))
        return;
    s->x[s->n] = x;
    s->us[s->n++] = us;
}

/* Adds the places at which all holders up to holder k, which is at x, stand side by side. Each holder between them may
 * have to leave room for an overtravel. */
static void add_beside(struct few *f, int i, int k, int64_t x)
{
    int64_t away = 0, over = f->rail->overtravel;
    for (int h = k < i ? k : i; h < max_int(i, k); h++)
        away += f->rail->at[h].gap;
    for (int turns = 0; turns == 0 || (over > 0 && turns <= abs(i - k) + 1); turns++) {
        int64_t far = away + turns * over;
        add_place(f, i, k <= i ? x + far : x - far);
    }
}

/* Adds such places for all holders to one side, up to the next one that cuts. */
static void add_side(struct few *f, int i, int step)
{
    const struct rail *r = f->rail;
    for (int k = i; k >= 0 && k < r->n; k += step) {
        int cut = f->choice.cut[k];
        int64_t p = r->at[k].p, limit = step < 0 ? r->min : r->max;
        const int64_t at[] = {limit, p, p - r->deadband, p + r->deadband};
        for (int n = 0; n < 4; n++)
            add_beside(f, i, k, at[n]);
        if (r->outside) {
            add_beside(f, i, k, r->web_left);
            add_beside(f, i, k, r->web_right);
        }
        if (cut != IDLE) {
            add_beside(f, i, k, rail_target(r, k, cut));
            return;
        }
    }
}

/* ---- all combinations of ends ------------------------------------------------------------------------------------ */

static const struct end nobody = {.x = NOWHERE, .moved = false};

static void end_from(struct few *f, int i, struct end left, int64_t us);

static bool is_worth(const struct few *f, int i, int64_t us)
{
    return us + f->rest_us[i + 1] < try_worth_us(f->room);
}

/* Lets holder i end like this, if that is possible, and tries all ends of the holders to its right. us is the cost of
 * all holders up to i. */
static void end_at(struct few *f, int i, struct end e, int64_t us)
{
    f->room->steps -= 4;
    if (e.x > f->high[i])
        return;
    f->choice.end[i] = e;
    end_from(f, i + 1, e, us);
}

static void end_idle(struct few *f, int i, struct end left, int64_t us)
{
    const struct rail *r = f->rail;
    const struct places *s = &f->places[i];
    if (is_worth(f, i, us))
        end_at(f, i, rail_least_stay(r, i, left), us);
    for (int k = 0; k < s->n; k++) {
        if (is_worth(f, i, us + s->us[k]))
            end_at(f, i, rail_idle_move(r, i, s->x[k], left), us + s->us[k]);
    }
    f->room->steps -= s->n / 4;
}

static void end_cut(struct few *f, int i, int64_t target, struct end left, int64_t us)
{
    if (is_worth(f, i, us))
        end_at(f, i, rail_cut_stay(f->rail, i, target, left), us);
    us += move_us(f, i, target);
    if (is_worth(f, i, us))
        end_at(f, i, rail_cut_move(f->rail, i, target, left), us);
}

/* Tries the choice if each of its moves is needed. If dragging is faster than travelling empty, a move that no holder
 * needs may save time, but a knife that can stay stays. */
static void try_needed(struct few *f)
{
    f->room->steps -= INT64_C(4) * f->rail->n;
    if (ends_are_needed(f->rail, &f->choice))
        try_ends(f->room, f->rail, &f->choice);
}

static void end_from(struct few *f, int i, struct end left, int64_t us)
{
    if (f->room->steps <= 0)
        return;
    if (i == f->rail->n)
        try_needed(f);
    else if (f->choice.cut[i] == IDLE)
        end_idle(f, i, left, us);
    else
        end_cut(f, i, rail_target(f->rail, i, f->choice.cut[i]), left, us);
}

/* Returns the least cost of holder i over all of its ends. */
static int64_t least_us(const struct search_room *w, const struct rail *r, int i)
{
    const struct cost *c = &w->price.cost;
    if (w->partial.cut[i] != IDLE)
        return c->cut_us[i][w->partial.cut[i]];
    return r->at[i].may_move ? min_i64(0, r->handling_us + c->approach_us[i]) : 0;
}

static void find_limits(struct few *f)
{
    const struct rail *r = f->rail;
    for (int i = 0; i < r->n; i++)
        f->left_us[i + 1] = f->left_us[i] + least_us(f->room, r, i);
    for (int i = r->n - 1; i >= 0; i--) {
        int cut = f->choice.cut[i];
        f->rest_us[i] = f->rest_us[i + 1] + least_us(f->room, r, i);
        f->high[i] = cut == IDLE ? f->room->cost.high[i] : rail_target(r, i, cut);
        if (i + 1 < r->n)
            f->high[i] = min_i64(f->high[i], f->high[i + 1] - r->at[i].gap);
    }
}

void few_try(struct search_room *w, const struct rail *r, int64_t once_us)
{
    struct few f;
    f.room = w;
    f.rail = r;
    f.once_us = once_us;
    f.left_us[0] = f.rest_us[r->n] = 0;
    f.choice = w->partial;
    find_limits(&f);
    for (int i = 0; i < r->n; i++) {
        f.places[i].n = 0;
        if (f.choice.cut[i] == IDLE && r->at[i].may_move) {
            add_side(&f, i, -1);
            add_side(&f, i, 1);
        }
    }
    end_from(&f, 0, nobody, once_us);
}
