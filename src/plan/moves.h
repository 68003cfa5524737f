/* The moves of one choice: the ways between them, and which of two neighbours must move first. Private to src/plan.
 *
 * Only neighbours that both move can bind each other. So the relation `must be first' holds only between move k - 1 and
 * move k, and it never closes a circle. All docking and dragging takes the same time in every sequence. A sequence
 * decides only the ways of the empty carriage. */
#ifndef KNIFERAIL_PLAN_MOVES_H
#define KNIFERAIL_PLAN_MOVES_H

#include "choice.h"

#define MOVES_MAX KR_HOLDERS_MAX

/* Times of the empty ways from the place where a holder is put down to the places where all other holders stand. A row
 * is computed again only when its holder is put elsewhere. The row before it is kept too, because searches alternate
 * between two choices that share most places. */
struct ways {
    int64_t x[KR_HOLDERS_MAX][2]; /* the place of each row; NOWHERE: not computed yet */
    uint8_t latest[KR_HOLDERS_MAX];
    int64_t own_us[KR_HOLDERS_MAX][2]; /* handling and drag to that place */
    int32_t start_us[KR_HOLDERS_MAX];
    int32_t us[KR_HOLDERS_MAX][2][KR_HOLDERS_MAX];
};

void ways_reset(struct ways *ways, const struct rail *rail);

/* The moves of one choice. Arrays that are indexed by k count the moves from left to right. All others, and sequences,
 * go by site. */
struct moves {
    int n;
    int16_t site[MOVES_MAX]; /* by k */
    bool moves[KR_HOLDERS_MAX];
    int64_t carriage;                             /* where the carriage starts */
    int64_t p[KR_HOLDERS_MAX], x[KR_HOLDERS_MAX]; /* start and target of each site */
    /* For sites i - 1 and i, if both move: -1 the left one must be first, +1 the right one must be first, 0 either may
     * be first. */
    int8_t link[KR_HOLDERS_MAX + 1];
    int64_t fixed_us; /* time of handling and drags of all moves */
    const int32_t *start_us;
    const int32_t *way_us[KR_HOLDERS_MAX]; /* times from the end of one move to the start of every other */
};

/* Makes the moves of a choice. They borrow rows of ways, and are valid until moves are made of other choices. */
void moves_make(struct moves *moves, const struct rail *rail, const struct choice *choice, struct ways *ways);

/* moves_precede() tells whether move a must come before move b. moves_may_follow() tells whether b may be the next move
 * after a. a and b are indices k. */
bool moves_precede(const struct moves *moves, int a, int b);
bool moves_may_follow(const struct moves *moves, int a, int b);

static inline int moves_link(const struct moves *m, int k)
{
    return m->link[m->site[k]];
}

/* Tells whether site i may move now, if the sites in done[] have moved. done[] has one element more than the rail has
 * sites. A site for which no other has to wait counts as done. */
static inline bool moves_is_ready(const struct moves *m, int i, const bool done[])
{
    if (m->link[i] < 0 && !done[i - 1])
        return false;
    return m->link[i + 1] <= 0 || done[i + 1];
}

/* Puts each move after those that must come first, and otherwise keeps the sequence. */
void moves_straighten(const struct moves *moves, int16_t sequence[], int n);

/* Returns the time of all moves in this sequence. */
int64_t moves_time_us(const struct moves *moves, const int16_t sequence[]);

#endif
