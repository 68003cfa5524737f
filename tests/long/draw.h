/* Random draws for tests: splitmix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators"). The
 * same seed gives the same story on every machine. */
#ifndef KR_TESTS_DRAW_H
#define KR_TESTS_DRAW_H

#include <assert.h>
#include <stdbool.h>
#include <stdint.h>

struct draw {
    uint64_t state;
};

static inline uint64_t draw_bits(struct draw *d)
{
    uint64_t z = d->state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

static inline int32_t draw_between(struct draw *d, int32_t least, int32_t most) /* both included */
{
    assert(most >= least);
    uint64_t n = (uint64_t)((int64_t)most - least) + 1;
    return (int32_t)(least + (int64_t)(draw_bits(d) % n));
}

static inline bool draw_chance(struct draw *d, int32_t percent)
{
    return draw_between(d, 1, 100) <= percent;
}

#endif
