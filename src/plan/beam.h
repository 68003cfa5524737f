/* Beam search (P. S. Ow and T. E. Morton 1988) for a better sequence of the moves of one choice. It builds sequences
 * level by level. Level n holds partial sequences of n moves that can still beat the best known time, the most
 * promising ones first, and at most as many as the width of the beam. Of partial sequences with the same set of moves
 * and the same last move it keeps only the fastest, as the dynamic programming of M. Held and R. M. Karp (1962) does.
 * Their bound is a sum of reduced costs of the assignment (bound.h). If the beam never dropped a partial sequence, the
 * result is proven optimal. README.md beside this file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_BEAM_H
#define KNIFERAIL_PLAN_BEAM_H

#include "bound.h"

#define BEAM_WIDTH_MAX 1024
#define BEAM_POOL      (4 * BEAM_WIDTH_MAX)
#define BEAM_SLOTS     (4 * BEAM_POOL)

struct beam_state {
    uint64_t done[2], ready[2]; /* one bit for each move */
    int64_t least_us;           /* lower bound of all sequences that begin like this */
    int16_t last, parent;
};

struct beam {
    struct beam_state now[BEAM_POOL], next[BEAM_POOL];
    int16_t slot[BEAM_SLOTS]; /* index in next[], hashed by the set of moves and the last move; -1: empty */
    int16_t parent[MOVES_MAX][BEAM_WIDTH_MAX], made[MOVES_MAX][BEAM_WIDTH_MAX];
};

/* Looks for a sequence that is faster than *best_us. match holds the solved assignment of these moves, and least_us is
 * its cost. Returns true, and writes sequence and *best_us, if it finds one. *proven: no sequence is faster than
 * *best_us. */
bool beam_search(struct beam *beam, const struct moves *moves, const struct match *match, int64_t least_us, int width,
                 int16_t sequence[], int64_t *best_us, bool *proven, int64_t *steps);

#endif
