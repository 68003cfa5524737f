/* How fuzz_drive and fuzz_panel make their input without libFuzzer: inputs that are right or
 * nearly right, each changed in up to three places. */
#ifndef FUZZ_MUTATE_H
#define FUZZ_MUTATE_H

#include <stdio.h>
#include <stdlib.h>

#include "sim/draw.h"

struct mutate_seed {
    const char *bytes;
    size_t n;
};
#define SEED(text) \
    { \
        text, sizeof text - 1 \
    }

/* The nth random number of a run. */
static inline uint64_t mutate_draw(uint64_t seed, uint32_t run, uint32_t nth)
{
    return sim_draw_bits((struct sim_draw){.seed = seed, .what = SIM_DRAW_BOUNCE, .item = run, .nth = nth});
}

/* Another byte in some places, or an end; the first `kept` bytes stay. Returns how many bytes there are now. */
static inline size_t mutate(uint8_t bytes[], size_t n, size_t kept, uint64_t seed, uint32_t run)
{
    uint32_t changes = (uint32_t)(mutate_draw(seed, run, 1) % 4);
    for (uint32_t i = 0; i < changes; i++) {
        uint64_t d = mutate_draw(seed, run, 2 + i);
        size_t at = kept + (d >> 8) % (n > kept ? n - kept : 1);
        if (d % 8 == 0 && at > 0)
            n = at;
        else if (at < n)
            bytes[at] = (uint8_t)(d >> 40);
    }
    return n;
}

/* Reads the command line NAME RUNS SEED, and ends the program if it is another. */
static inline uint32_t mutate_runs(int argc, char *argv[], uint64_t *seed)
{
    if (argc != 3) {
        fprintf(stderr, "usage: %s RUNS SEED\n", argv[0]);
        exit(EXIT_FAILURE);
    }
    *seed = strtoull(argv[2], NULL, 10);
    return (uint32_t)strtoul(argv[1], NULL, 10);
}

#endif
