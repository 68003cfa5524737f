#include "sim/draw.h"

/* The finisher of SplitMix64 (Steele, Lea, Flood: Fast Splittable Pseudorandom Number Generators, 2014). */
static uint64_t mix(uint64_t x)
{
    x += 0x9E3779B97F4A7C15u;
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
    return x ^ (x >> 31);
}

uint64_t sim_draw_bits(struct sim_draw draw)
{
    uint64_t x = mix(draw.seed);
    x = mix(x ^ (uint64_t)draw.what);
    x = mix(x ^ draw.rail);
    x = mix(x ^ draw.item);
    return mix(x ^ draw.nth);
}

double sim_draw_unit(struct sim_draw draw)
{
    return (double)(sim_draw_bits(draw) >> 11) * 0x1p-53;
}

double sim_draw_either_way(struct sim_draw draw)
{
    return 2.0 * sim_draw_unit(draw) - 1.0;
}
