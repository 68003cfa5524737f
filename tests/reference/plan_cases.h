/* Random planning problems for the tests and the benchmark: same seed, same problem. */
#ifndef PLAN_CASES_H
#define PLAN_CASES_H

#include "kniferail/plan.h"

/* splitmix64, a public-domain generator (S. Vigna). */
uint64_t cases_next(uint64_t *state);
int32_t cases_between(uint64_t *state, int32_t low, int32_t high);

/* A small or middling rail or two with every feature of the planner somewhere: states, sizes, offsets, deadband,
 * approach, idle policy, gaps found too narrow, untrimmed edges, shift, compensation, parking. About one in three
 * can't be done. */
void cases_any(uint64_t seed, int most_holders, struct kr_plan_request *request);

/* The same rails after hands pushed holders together: two in three stand nearer to the one before than their
 * spacing. */
void cases_pushed(uint64_t seed, int most_holders, struct kr_plan_request *request);

#endif
