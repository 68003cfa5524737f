/* Beam search (P. S. Ow and T. E. Morton 1988) for a better sequence of the moves of one choice. It goes level by
 * level: a level has the beginnings of so many moves that can still beat the best time known, the most promising
 * ones first, and no more of them than the width of the beam. Of beginnings with the same moves and the same last
 * move only the fastest is kept, as in the dynamic programming of M. Held and R. M. Karp (1962). Their bound adds up
 * reduced costs of the assignment (bound.h). If no beginning was ever put aside, the result is proven. README.md
 * beside this file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_BEAM_H
#define KNIFERAIL_PLAN_BEAM_H

#include "bound.h"

#define BEAM_WIDTH_MAX 1024
#define BEAM_POOL      (4 * BEAM_WIDTH_MAX)
#define BEAM_SLOTS     (4 * BEAM_POOL)

struct beam_state {
    uint64_t done[2], ready[2]; /* one bit a move */
    int64_t least_us;           /* no end of this beginning is faster */
    int16_t last, parent;
};

struct beam {
    struct beam_state now[BEAM_POOL], next[BEAM_POOL];
    int16_t slot[BEAM_SLOTS]; /* where in next[] a done set and last move are; -1: nowhere */
    int16_t parent[MOVES_MAX][BEAM_WIDTH_MAX], made[MOVES_MAX][BEAM_WIDTH_MAX];
};

/* match holds the solved assignment of these moves, least_us its cost. Looks for a sequence below *best_us; if found,
 * writes sequence and *best_us and returns true. *proven: there is no better one than *best_us. */
bool beam_search(struct beam *beam, const struct moves *moves, const struct match *match, int64_t least_us,
                 int width, int16_t sequence[], int64_t *best_us, bool *proven, int64_t *steps);

#endif
