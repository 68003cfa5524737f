#include "assign.h"

#include "integers.h"

/* ---- runs of idle holders between two cutting ones ---------------------------------------------------------- */

/* The least ends of the last holder so far, and the cost of the idle holders since the last one that cuts. Before
 * holder 0 there is no holder, and both ends are impossible. */
struct run {
    struct end stay, move;
    int64_t cost;
};

static const struct end impossible = {.x = NOWHERE, .moved = false};

static bool possible(struct end e)
{
    return e.x < NOWHERE;
}

static struct end least_of(struct end a, struct end b)
{
    return b.x < a.x ? b : a;
}

static int64_t pushed_us(const struct rail *r, int i, struct end e)
{
    return e.x > r->at[i].p ? r->handling_us + rail_drag_us(r, i, e.x) : r->handling_us;
}

/* Adds one more idle holder, with j cuts to its left. False if there is no room. */
static bool run_on(const struct cost *c, const struct rail *r, int i, int j, struct run *run)
{
    struct end stay = impossible, move = impossible;
    if (i == 0 || possible(run->stay)) {
        stay = rail_least_stay(r, i, run->stay);
        move = rail_least_move(r, i, run->stay);
    }
    if (possible(run->move)) {
        stay = least_of(stay, rail_least_stay(r, i, run->move));
        move = least_of(move, rail_least_move(r, i, run->move));
    }
    int64_t cost = c->rest_us[i][j];
    if (cost >= NEVER)
        return false;
    if (!possible(stay) && possible(move))
        cost = max_i64(cost, pushed_us(r, i, move));
    *run = (struct run){.stay = stay, .move = move, .cost = run->cost + cost};
    return possible(stay) || possible(move);
}

static bool may_cut_behind(const struct rail *r, int i, int j, const struct run *run, bool moved)
{
    int64_t x = rail_target(r, i, j);
    if (i == 0 || possible(run->stay)) {
        if (possible(moved ? rail_cut_move(r, i, x, run->stay) : rail_cut_stay(r, i, x, run->stay)))
            return true;
    }
    return possible(run->move) &&
           possible(moved ? rail_cut_move(r, i, x, run->move) : rail_cut_stay(r, i, x, run->move));
}

/* ---- the cheapest path -------------------------------------------------------------------------------------- */

struct path {
    int64_t cost;
    int holder, moved;
};

static void reach_node(struct assign *a, const struct rail *r, const struct cost *c, int i, int j,
                       const struct run *run, const struct path *from)
{
    for (int moved = 0; moved < 2; moved++) {
        if (!may_cut_behind(r, i, j, run, moved))
            continue;
        int64_t cost = from->cost + run->cost + (moved ? c->cut_us[i][j] : 0);
        if (cost < a->node[i][j][moved].cost)
            a->node[i][j][moved] = (struct assign_node){
                .cost = cost, .left_holder = (int16_t)from->holder, .left_moved = (int16_t)from->moved};
    }
}

/* Tries all continuations after a holder that cuts (or after the rail's end): idle holders, and then the next cut or
 * the other end. */
static void extend(struct assign *a, const struct rail *r, const struct cost *c, int j, struct run run,
                   const struct path *from, struct path *best)
{
    for (int i = from->holder + 1; i < r->n; i++) {
        if (j < r->n_cuts && r->at[i].may_cut)
            reach_node(a, r, c, i, j, &run, from);
        if (!run_on(c, r, i, j, &run))
            return;
    }
    if (j == r->n_cuts && from->cost + run.cost < best->cost)
        *best = (struct path){.cost = from->cost + run.cost, .holder = from->holder, .moved = from->moved};
}

static void clear(struct assign *a, const struct rail *r)
{
    for (int i = 0; i < r->n; i++) {
        for (int j = 0; j < r->n_cuts; j++)
            a->node[i][j][0].cost = a->node[i][j][1].cost = NEVER;
    }
}

static void extend_node(struct assign *a, const struct rail *r, const struct cost *c, int i, int j, int moved,
                        struct path *best)
{
    struct path from = {.cost = a->node[i][j][moved].cost, .holder = i, .moved = moved};
    struct run run = {.stay = impossible, .move = impossible, .cost = 0};
    struct end e = {.x = rail_target(r, i, j), .moved = moved};
    if (from.cost >= NEVER)
        return;
    if (moved)
        run.move = e;
    else
        run.stay = e;
    extend(a, r, c, j + 1, run, &from, best);
}

bool assign_best(struct assign *a, const struct rail *r, const struct cost *c, struct choice *choice)
{
    struct path best = {.cost = NEVER, .holder = -1}, start = {.cost = 0, .holder = -1};
    struct run nobody = {.stay = impossible, .move = impossible, .cost = 0};
    clear(a, r);
    extend(a, r, c, 0, nobody, &start, &best);
    for (int i = 0; i < r->n; i++) {
        for (int j = 0; j < r->n_cuts && j <= i; j++) {
            extend_node(a, r, c, i, j, 0, &best);
            extend_node(a, r, c, i, j, 1, &best);
        }
    }
    if (best.cost >= NEVER)
        return false;
    for (int i = 0; i < r->n; i++)
        choice->cut[i] = IDLE;
    for (int i = best.holder, moved = best.moved, j = r->n_cuts - 1; j >= 0; j--) {
        const struct assign_node *n = &a->node[i][j][moved];
        choice->cut[i] = (int16_t)j;
        i = n->left_holder;
        moved = n->left_moved;
    }
    return true;
}
