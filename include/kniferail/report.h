/* report: what a period's changeovers, alarms and placements say of a station, so that somebody sees whether it is
 * getting worse. Pure: no file, no clock, no allocation; the caller brings the arrays. Stands on base; the command line
 * stands on it. Times of day are minutes, times are milliseconds, both in whatever zone the caller counts them. */
#ifndef KNIFERAIL_REPORT_H
#define KNIFERAIL_REPORT_H

#include "kniferail/statistics.h"

/* ---- changeovers --------------------------------------------------------------------------------------- */

struct kr_report_changeover {
    int64_t ended_ms;
    uint16_t outcome;                        /* enum kr_outcome (map.h) */
    int32_t planned_ms, actual_ms, total_ms; /* of its moves as planned, of its moves, of the whole */
    bool is_told; /* whether spent_ms is known; a book of an older program has none */
    int32_t spent_ms[KR_N_SPENT];
};

struct kr_report_sum {
    size_t n, verified, told;
    int64_t planned_ms, actual_ms, total_ms, longest_ms;
    int64_t told_ms; /* total_ms of those that are told; what spent_ms lacks of it was not counted */
    int64_t spent_ms[KR_N_SPENT];
    struct kr_spread ratio; /* of actual to planned, of the changeovers that planned anything */
};

/* room: for n values, used while it reckons. */
struct kr_report_sum kr_report_sum_of(const struct kr_report_changeover changeover[], size_t n,
                                      double room[]);

/* ---- times --------------------------------------------------------------------------------------------- */

/* Of one changeover and rail: how often something was done, and how long that took in all. */
struct kr_report_count {
    double n, ms;
};

/* What one of them takes, by the least squares of ms = each x n over all changeovers, a line through the origin; and
 * the standard uncertainty of that, which at least two of them tell. */
struct kr_report_each {
    size_t changeovers; /* in which there was any */
    double n;           /* in all */
    bool is_known, has_uncertainty;
    double each_ms, uncertainty_ms;
};
struct kr_report_each kr_report_each_of(const struct kr_report_count count[], size_t n);

/* ---- shifts -------------------------------------------------------------------------------------------- */

#define KR_SHIFTS_MAX 12

/* A shift begins at its minute of the day and ends where the next begins; the last goes over midnight to the first. */
struct kr_report_shift {
    int32_t begin_min;  /* 0 to 1439 */
    size_t changeovers; /* that began in it */
    size_t times;       /* how many such shifts had a changeover, or a part of one */
    int64_t setup_ms;   /* what of all changeovers lay in such shifts */
    int64_t most_ms;    /* and in the one that had most */
};

/* Shares each changeover out over the shifts that it lay in. changeover[] in the order of time; shift[]: begin_min is
 * given, growing, for 1 to KR_SHIFTS_MAX; the rest is written. */
void kr_report_share_out(const struct kr_report_changeover changeover[], size_t n,
                         struct kr_report_shift shift[], size_t n_shifts);

/* ---- alarms -------------------------------------------------------------------------------------------- */

#define KR_REPORT_CAUSES_MAX 256 /* different alarms; there are fewer numbers */

struct kr_report_alarm {
    int64_t at_ms;
    bool raised; /* else: gone */
    uint16_t code, rail, item;
};

struct kr_report_cause {
    uint16_t code;
    uint32_t raised;
    int64_t stood_ms; /* from each raised to the same gone; what stood at the period's end is not counted */
    uint16_t rail, item; /* where it was raised most often, the first of these; 0: nowhere in particular */
    uint32_t times_there;
};

/* alarm[] in the order of time. Writes a cause for each number that was raised, the one most often raised first, and
 * returns how many. */
size_t kr_report_causes(const struct kr_report_alarm alarm[], size_t n,
                        struct kr_report_cause cause[KR_REPORT_CAUSES_MAX]);

/* ---- what so few values can say ------------------------------------------------------------------------ */

/* The value below which a chi-square variable of that many degrees of freedom (1 or more) stays with the probability p,
 * above 0 and below 1. To 1e-10 of itself. */
double kr_chi_square_quantile(double p, uint32_t degrees);

/* How often a variable of Student's t distribution of that many degrees of freedom (1 or more) lies further from 0 than
 * t, either way. To 1e-12 at best: what is rarer counts as 0. */
double kr_student_beyond(double t, uint32_t degrees);

struct kr_interval {
    double low, high;
};

/* In which a capability (statistics.h) lies with 95 % confidence, if the values come from a normal distribution and do
 * not drift; n: how many they were, at least 2. For cp exactly, by the chi-square distribution of the variance (Chou,
 * Owen and Borrego 1990, Journal of Quality Technology 22, 223-229, page 224): cp sqrt(chi2(0.025; n - 1) / (n - 1)) to
 * cp sqrt(chi2(0.975; n - 1) / (n - 1)). For cpk about, as Bissell has it (1990, Applied Statistics 39, 331-340): cpk +
 * or - 1.96 sqrt(1 / (9 n) + cpk^2 / (2 (n - 1))). Formulas as secondary sources give them; the papers were not
 * read. */
struct kr_interval kr_capability_interval(double cp, size_t n);
struct kr_interval kr_capability_off_centre_interval(double cpk, size_t n);

/* ---- for how many orders a knife will do -------------------------------------------------------------- */

/* A forecast from fewer orders says little, so that it is shown with a caution: common practice, no published
 * source. */
#define KR_FORECAST_FEW 20

struct kr_forecast {
    /* Of the metres of an order, those that ask nothing of the knife counted with 0. */
    struct kr_spread spread;
    bool has_orders; /* at least two orders, and it cuts in one of them: */
    double orders;   /* after about so many it has cut what it had left; 0: it is due already */
    double orders_sd;
    struct kr_interval orders_95;
    bool few;
};

/* metres[]: what each of the last n orders asked of the place where the knife is; left: metres until it is due.
 *
 * Orders are taken as drawn from the mix of the last ones, each by itself. The number of them until their metres reach
 * `left` is a renewal process: its distribution is about normal, with the mean left / mean and the variance left sd^2 /
 * mean^3 (Feller 1949, Transactions of the American Mathematical Society 67, 98-119; also Cox 1962, Renewal Theory.
 * The works were not read: the formulas are from memory). The mean of n orders is itself off by sd / sqrt(n), which
 * adds (left sd / mean^2)^2 / n to the variance. The interval is the mean with 1.96 standard deviations to either side,
 * and not below 0. */
struct kr_forecast kr_forecast_of(const double metres[], size_t n, double left);

/* ---- placement ----------------------------------------------------------------------------------------- */

/* Capability of fewer placements says little, so that it is shown with a caution only: common practice, no published
 * source. The interval beside it says how little. */
#define KR_REPORT_FEW 50

/* A report of holders of which none is loose names one of them as drifting, or as scattering more and more, in so many
 * of its times each: the chance is shared out over the holders (Bonferroni's inequality). */
#define KR_REPORT_CHANCE 0.001

#define KR_REPORT_SCATTER_LEAST 10 /* placements that a growing scatter is judged by */

enum kr_report_trend { KR_TREND_NONE, KR_TREND_DRIFTS, KR_TREND_SCATTERS };

struct kr_placement {
    struct kr_spread spread; /* of the errors */
    bool has_capability;     /* at least two, and they vary: */
    double cp, cpk;
    struct kr_interval cp_95, cpk_95;
    bool few;
    size_t n_since; /* with the present knife */
    bool has_drift; /* at least three of these, at different times: */
    /* Change of the error from the first of them to the last, by the straight line through them. */
    double drift;
    double drift_sd;
    /* How often errors that only scatter have such a drift or a greater one (Student's t); how often ones that scatter
     * alike all the time do so as if the scatter grew (the same, about). 1: that can't be told. */
    double drift_by_chance, scatter_by_chance;
};

/* error[] in the order of time, when[] beside it in any unit; the last n_since are with the present knife. tolerance:
 * either way, in the unit of error. */
struct kr_placement kr_placement_of(const double error[], const double when[], size_t n, size_t n_since,
                                    double tolerance);

/* Whether a holder stands out, in a report of so many: its errors go one way, or they scatter more and more to both. */
enum kr_report_trend kr_placement_trend(const struct kr_placement *placement, size_t n_holders);

#endif
