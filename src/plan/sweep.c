#include "sweep.h"

#include <string.h>

#include "integers.h"

/* Returns the last move of the run from k on in which each move waits for the next one, or each for the one before
 * it. */
static int chain_end(const struct moves *m, int k)
{
    int last = k, link = k + 1 < m->n ? moves_link(m, k + 1) : 0;
    while (link != 0 && last + 1 < m->n && moves_link(m, last + 1) == link)
        last++;
    return last;
}

/* Finds the best direction for each move. The best direction for a chain leads from its first pick to its last drop. */
static void find_ways(const struct moves *m, bool right[])
{
    for (int k = 0, last; k < m->n; k = last + 1) {
        last = chain_end(m, k);
        bool backward = last > k && moves_link(m, last) > 0;
        int first_site = m->site[backward ? last : k], last_site = m->site[backward ? k : last];
        for (int i = k; i <= last; i++)
            right[i] = m->x[last_site] > m->p[first_site];
    }
}

/* Makes the sweep from the carriage to the far right with the moves that are best made to the right, then all the way
 * to the left with the others, and to the right again up to move stop. If turned is set, left and right are
 * exchanged. */
static void sweep(const struct moves *m, const bool right[], bool turned, int stop, int16_t sequence[])
{
    int n = 0;
    for (int pass = 0; pass < 3; pass++) {
        for (int s = 0; s < m->n; s++) {
            int k = (pass == 1) == turned ? s : m->n - 1 - s;
            int64_t p = m->p[m->site[k]];
            bool ahead = turned ? p <= m->carriage : p >= m->carriage;
            bool along = right[k] != turned, reached = turned ? k >= stop : k <= stop;
            int its = along && ahead ? 0 : along && reached ? 2 : 1;
            if (its == pass)
                sequence[n++] = m->site[k];
        }
    }
    moves_straighten(m, sequence, m->n);
}

static void keep(struct sweeps *w, const struct moves *m, const int16_t sequence[])
{
    int64_t us = moves_time_us(m, sequence);
    int at = 0;
    while (at < w->n && w->us[at] < us)
        at++;
    if (at == SWEEPS_KEPT || (at < w->n && w->us[at] == us))
        return;
    w->n = w->n < SWEEPS_KEPT ? w->n + 1 : w->n;
    for (int k = w->n - 1; k > at; k--) {
        w->us[k] = w->us[k - 1];
        memcpy(w->sequence[k], w->sequence[k - 1], (size_t)m->n * sizeof *sequence);
    }
    w->us[at] = us;
    memcpy(w->sequence[at], sequence, (size_t)m->n * sizeof *sequence);
}

void sweeps_make(const struct moves *m, struct sweeps *sweeps, int64_t *steps)
{
    bool right[MOVES_MAX];
    int16_t sequence[MOVES_MAX];
    int stride = m->n / 12 + 1;
    find_ways(m, right);
    sweeps->n = 0;
    for (int turned = 0; turned < 2; turned++) {
        for (int stop = -1; stop <= m->n; stop += stride) {
            int64_t p = stop < 0 || stop == m->n ? m->carriage : m->p[m->site[stop]];
            if (turned ? p < m->carriage : p > m->carriage) /* made on the way out */
                continue;
            sweep(m, right, turned, stop, sequence);
            keep(sweeps, m, sequence);
            *steps -= 3 * m->n / 2;
        }
    }
}
