/* report: evaluates the changeovers, alarms and placements of a period, so that somebody sees whether a station is
 * getting worse. Pure: no file, no clock, no allocation; the caller brings the arrays. Stands on base; the command line
 * stands on it. Times of day are minutes, and times are milliseconds, both in the caller's time zone. */
#ifndef KNIFERAIL_REPORT_H
#define KNIFERAIL_REPORT_H

#include "kniferail/statistics.h"

/* ---- changeovers --------------------------------------------------------------------------------------- */

struct kr_report_changeover {
    int64_t ended_ms;
    uint16_t outcome; /* enum kr_outcome (map.h) */
    /* Planned time of the moves, actual time of the moves, time of the whole changeover. */
    int32_t planned_ms, actual_ms, total_ms;
    bool is_told; /* spent_ms is known; a book of an older program does not contain it */
    int32_t spent_ms[KR_N_SPENT];
};

struct kr_report_sum {
    size_t n, verified, told;
    int64_t planned_ms, actual_ms, total_ms, longest_ms;
    /* Sum of total_ms over the changeovers with is_told. The part of it that is not in spent_ms was not counted. */
    int64_t told_ms;
    int64_t spent_ms[KR_N_SPENT];
    struct kr_spread ratio; /* ratio of actual to planned time, over the changeovers with a planned time */
};

/* Sums up the changeovers. room[] is memory for n values during the call. */
struct kr_report_sum kr_report_sum_of(const struct kr_report_changeover changeover[], size_t n, double room[]);

/* ---- times --------------------------------------------------------------------------------------------- */

/* For one changeover and rail: how often something was done, and how long that took in total. */
struct kr_report_count {
    double n, ms;
};

/* The time for one of them: the least-squares fit of ms = each x n over all changeovers, a line through the origin. It
 * has a standard uncertainty if there are at least two changeovers. */
struct kr_report_each {
    size_t changeovers; /* changeovers in which it was done */
    double n;           /* how often it was done in total */
    bool is_known, has_uncertainty;
    double each_ms, uncertainty_ms;
};
struct kr_report_each kr_report_each_of(const struct kr_report_count count[], size_t n);

/* ---- shifts -------------------------------------------------------------------------------------------- */

#define KR_SHIFTS_MAX 12

/* A shift. It begins at its minute of the day, and ends where the next one begins. The last shift goes over midnight to
 * the first one. */
struct kr_report_shift {
    int32_t begin_min;  /* 0 to 1439 */
    size_t changeovers; /* changeovers that began in it */
    size_t times;       /* number of days on which this shift had a changeover, or a part of one */
    int64_t setup_ms;   /* sum of the changeovers' times in this shift over all days */
    int64_t most_ms;    /* the largest sum on one day */
};

/* Distributes the time of each changeover over its shifts. changeover[] is in the sequence of time. shift[] has 1 to
 * KR_SHIFTS_MAX shifts with a growing begin_min; the call writes the other fields. */
void kr_report_share_out(const struct kr_report_changeover changeover[], size_t n, struct kr_report_shift shift[],
                         size_t n_shifts);

/* ---- alarms -------------------------------------------------------------------------------------------- */

#define KR_REPORT_CAUSES_MAX 256 /* different alarms; there are fewer alarm numbers than this */

struct kr_report_alarm {
    int64_t at_ms;
    bool raised; /* false: the alarm is gone */
    uint16_t code, rail, item;
};

struct kr_report_cause {
    uint16_t code;
    uint32_t raised;
    /* Total time from raised to gone; alarms that stand at the end of the period are not counted. */
    int64_t stood_ms;
    /* Where it was raised most often, and the first such place if there are several; 0: no particular place. */
    uint16_t rail, item;
    uint32_t times_there;
};

/* Finds the causes. alarm[] is in the sequence of time. Writes one cause for each alarm number that was raised, the
 * most frequent one first, and returns their number. */
size_t kr_report_causes(const struct kr_report_alarm alarm[], size_t n,
                        struct kr_report_cause cause[KR_REPORT_CAUSES_MAX]);

/* ---- confidence of few values ----------------------------------------------------------------------------- */

/* Returns the value below which a chi-square variable of that many degrees of freedom (1 or more) stays with the
 * probability p, above 0 and below 1. The relative error is at most 1e-10. */
double kr_chi_square_quantile(double p, uint32_t degrees);

/* Returns the probability that a variable of Student's t distribution of that many degrees of freedom (1 or more) lies
 * further from 0 than t, in both directions. The absolute error is about 1e-12: a smaller probability counts as 0. */
double kr_student_beyond(double t, uint32_t degrees);

struct kr_interval {
    double low, high;
};

/* These return the interval in which a capability (statistics.h) lies with 95 % confidence, if the values come from a
 * normal distribution and do not drift. n is the number of values, at least 2. For cp it is exact, by the chi-square
 * distribution of the variance (Chou, Owen and Borrego 1990, Journal of Quality Technology 22, 223-229, page 224): cp
 * sqrt(chi2(0.025; n - 1) / (n - 1)) to cp sqrt(chi2(0.975; n - 1) / (n - 1)). For cpk it is approximate (Bissell 1990,
 * Applied Statistics 39, 331-340): cpk + or - 1.96 sqrt(1 / (9 n) + cpk^2 / (2 (n - 1))). The formulas come from
 * secondary sources; the papers were not read. */
struct kr_interval kr_capability_interval(double cp, size_t n);
struct kr_interval kr_capability_off_centre_interval(double cpk, size_t n);

/* ---- the number of orders that a knife will last ----------------------------------------------------------- */

/* A forecast from fewer orders is uncertain, and is shown with a caution: common practice, no published source. */
#define KR_FORECAST_FEW 20

struct kr_forecast {
    /* Spread of the metres of an order. An order that does not use the knife counts with 0. */
    struct kr_spread spread;
    /* There are at least two orders, and the knife cuts in one of them. Then the following fields count: */
    bool has_orders;
    double orders; /* about this many orders use up the knife's remaining metres; 0: it is already due */
    double orders_sd;
    struct kr_interval orders_95;
    bool few;
};

/* Makes a forecast. metres[] are the metres that each of the last n orders needed at the knife's place. left is the
 * number of metres until the knife is due.
 *
 * The model draws each order independently from the last ones. The number of orders until their metres reach `left` is
 * a renewal process: its distribution is about normal, with the mean left / mean and the variance left sd^2 / mean^3
 * (Feller 1949, Transactions of the American Mathematical Society 67, 98-119; also Cox 1962, Renewal Theory. The works
 * were not read: the formulas are from memory). The mean of n orders has its own standard deviation sd / sqrt(n), which
 * adds (left sd / mean^2)^2 / n to the variance. The interval is the mean plus and minus 1.96 standard deviations, and
 * not below 0. */
struct kr_forecast kr_forecast_of(const double metres[], size_t n, double left);

/* ---- placement ----------------------------------------------------------------------------------------- */

/* The capability of fewer placements is uncertain, and is shown with a caution only: common practice, no published
 * source. The interval beside it shows how uncertain it is. */
#define KR_REPORT_FEW 50

/* Among reports of holders without any fault, this fraction names a holder as drifting, and the same fraction names one
 * as scattering more and more. The probability is divided by the number of holders (Bonferroni's inequality). */
#define KR_REPORT_CHANCE 0.001

#define KR_REPORT_SCATTER_LEAST 10 /* least number of placements for judging a growing scatter */

enum kr_report_trend { KR_TREND_NONE, KR_TREND_DRIFTS, KR_TREND_SCATTERS };

struct kr_placement {
    struct kr_spread spread; /* spread of the errors */
    bool has_capability;     /* there are at least two errors, and they vary. Then the following fields count: */
    double cp, cpk;
    struct kr_interval cp_95, cpk_95;
    bool few;
    size_t n_since; /* number of placements with the present knife */
    /* There are at least three of these, at different times. Then the following fields count: */
    bool has_drift;
    /* Change of the error from the first of them to the last one, by the straight line through them. */
    double drift;
    double drift_sd;
    /* drift_by_chance: probability that errors which only scatter have such a drift or a greater one (Student's t).
     * scatter_by_chance: probability, approximately, that errors with a constant scatter look as if it grew this much.
     * 1: it can't be told. */
    double drift_by_chance, scatter_by_chance;
};

/* Evaluates placements. error[] is in the sequence of time, and when[] has the times in any unit. The last n_since of
 * them are with the present knife. tolerance is the limit in both directions, in the unit of error. */
struct kr_placement kr_placement_of(const double error[], const double when[], size_t n, size_t n_since,
                                    double tolerance);

/* Tells whether a holder stands out in a report of n_holders: its errors drift in one direction, or they scatter more
 * and more. */
enum kr_report_trend kr_placement_trend(const struct kr_placement *placement, size_t n_holders);

#endif
