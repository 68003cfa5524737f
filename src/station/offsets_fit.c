#include "kniferail/offsets.h"

#include <math.h>
#include <string.h>

#include "kniferail/statistics.h"

/* Holders that strips connect, directly or through other holders, have the same root. */
struct ties {
    uint16_t root[KR_HOLDERS_MAX];
    uint16_t unknown[KR_HOLDERS_MAX]; /* index of a fitted holder among the unknowns */
    uint16_t n_unknowns, n_groups;
};

static uint16_t root_of(const struct ties *ties, uint16_t h)
{
    while (ties->root[h] != h)
        h = ties->root[h];
    return h;
}

static void tie(struct ties *ties, const struct kr_strips strips[], uint16_t n, bool fitted[])
{
    memset(fitted, 0, KR_HOLDERS_MAX * sizeof fitted[0]);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        ties->root[h] = h;
    for (uint16_t i = 0; i < n; i++) {
        uint16_t left = (uint16_t)(strips[i].left - 1), right = (uint16_t)(strips[i].right - 1);
        fitted[left] = fitted[right] = true;
        ties->root[root_of(ties, left)] = root_of(ties, right);
    }
    ties->n_unknowns = ties->n_groups = 0;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        if (!fitted[h])
            continue;
        ties->unknown[h] = ties->n_unknowns++;
        if (ties->root[h] == h)
            ties->n_groups++;
    }
}

static void add_strips(struct kr_least_squares *fit, const struct ties *ties, const struct kr_strips *strips)
{
    double row[KR_UNKNOWNS_MAX] = {0}, weight = sqrt(strips->n);
    row[ties->unknown[strips->right - 1]] = weight;
    row[ties->unknown[strips->left - 1]] = -weight;
    kr_least_squares_add(fit, row, weight * strips->sum_um / strips->n);
}

/* Strips can't show the sum over each group, so that it stays as it is. */
static void add_group(struct kr_least_squares *fit, const struct ties *ties, uint16_t root, const bool fitted[],
                      const int32_t now_um[])
{
    double row[KR_UNKNOWNS_MAX] = {0}, sum_um = 0;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        if (!fitted[h] || root_of(ties, h) != root)
            continue;
        row[ties->unknown[h]] = 1;
        sum_um += now_um[h];
    }
    kr_least_squares_add(fit, row, sum_um);
}

/* The residuals are those of single strips, not of their means. */
static double residual_squares(const struct kr_strips *strips, double fitted_um)
{
    return strips->squares_um2 - fitted_um * (2 * strips->sum_um - strips->n * fitted_um);
}

static void judge_spread(const struct ties *ties, const struct kr_strips strips[], uint16_t n, const double x[],
                         struct kr_offsets *out)
{
    double squares = 0;
    out->n_strips = 0;
    for (uint16_t i = 0; i < n; i++) {
        out->n_strips += strips[i].n;
        squares +=
            residual_squares(&strips[i], x[ties->unknown[strips[i].right - 1]] - x[ties->unknown[strips[i].left - 1]]);
    }
    out->spare = out->n_strips - (uint32_t)(ties->n_unknowns - ties->n_groups);
    out->sd_um = out->spare > 0 && squares > 0 ? sqrt(squares / out->spare) : 0;
}

bool kr_offsets_fit(const struct kr_strips strips[], uint16_t n, const int32_t now_um[KR_HOLDERS_MAX],
                    struct kr_offsets *out)
{
    struct kr_least_squares fit; /* 68 KB of stack while a person's request is judged */
    struct ties ties;
    bool fitted[KR_HOLDERS_MAX];
    double x[KR_UNKNOWNS_MAX];
    tie(&ties, strips, n, fitted);
    if (ties.n_unknowns == 0)
        return false;
    kr_least_squares_begin(&fit, ties.n_unknowns);
    for (uint16_t i = 0; i < n; i++)
        add_strips(&fit, &ties, &strips[i]);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        if (fitted[h] && ties.root[h] == h)
            add_group(&fit, &ties, h, fitted, now_um);
    if (!kr_least_squares_solve(&fit, x))
        return false;
    memset(out, 0, sizeof *out);
    memcpy(out->fitted, fitted, sizeof out->fitted);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        if (fitted[h])
            out->offset_um[h] = (int32_t)lround(x[ties.unknown[h]]);
    judge_spread(&ties, strips, n, x, out);
    return true;
}
