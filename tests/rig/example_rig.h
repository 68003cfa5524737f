/* A rig with the station of a station file, such as the examples in config/, for tests of these examples. */
#ifndef KR_TESTS_EXAMPLE_RIG_H
#define KR_TESTS_EXAMPLE_RIG_H

#include "rig.h"

/* Takes the first station of the file and its simulated machine, without starting them. A plan takes 2 cycles, as in
 * the daemon's thread on a computer with other work, and a commit of the book takes 1. A test may change that. Fails
 * the test if the file has a mistake. */
void example_defaults(struct rig *rig, const char *path);

#endif
