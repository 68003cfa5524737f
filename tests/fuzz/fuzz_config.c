/* The config's door: whatever a file holds, reading it ends with an answer, and what is accepted is consistent.
 *
 * With libFuzzer (KR_FUZZ) the fuzzer drives it. Without, it mutates the example stations by a fixed seed:
 *   fuzz_config RUNS [SEED] */
#define _GNU_SOURCE /* memfd_create */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "kniferail/config.h"

static struct kr_config config;
static struct kr_config_errors errors;

/* The library itself loses the buffer of a string that a mistake of syntax ends: once a refused file, a hundred
 * bytes. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\nleak:strbuf_append\n";
}

static void insist(bool truth, const char *what)
{
    if (truth)
        return;
    fprintf(stderr, "fuzz_config: not so: %s\n", what);
    abort();
}

/* What the station, the planner and the simulated machine rely on. */
static void insist_on_station(const struct kr_config_station *s)
{
    const struct kr_geometry *g = &s->station.geometry;
    insist(g->n_rails >= 1 && g->n_rails <= KR_RAILS_MAX, "1 to 4 rails");
    insist(s->unit_id >= 1 && s->unit_id <= 247, "a unit identifier in range");
    insist(s->station.name[0] && memchr(s->station.name, 0, sizeof s->station.name), "a name");
    insist(2 * s->station.deadband_um <= g->tolerance_um, "a deadband of at most half the tolerance");
    for (uint16_t r = 0; r < g->n_rails; r++) {
        const struct kr_carriage_config *c = &s->station.carriage[r];
        int32_t from_um, to_um;
        kr_scan_range(&s->station.geometry.rail[r], &s->station.carriage[r], &from_um, &to_um);
        insist(g->rail[r].n_holders >= 1 && g->rail[r].n_holders <= KR_HOLDERS_MAX, "1 to 128 holders");
        insist(g->rail[r].min_um < g->rail[r].max_um, "limits in order");
        insist(from_um >= c->travel_min_um && to_um <= c->travel_max_um, "a scan within the travel");
        insist(g->rail[r].empty.v_um_per_s > 0 && g->rail[r].drag.a_um_per_s2 > 0, "speeds");
        insist(c->dock_tries >= 1, "a try to dock");
        for (uint16_t i = 0; i < g->rail[r].n_holders; i++)
            insist(s->holder[r][i].holder_size >= 1 && s->holder[r][i].holder_size <= s->station.geometry.n_sizes,
                   "a size");
    }
    insist(sim_config_check(&s->simulated).what == NULL, "a simulated machine that can be");
}

static void insist_on(bool read)
{
    insist(read == (errors.count == 0), "refused with a reason, or accepted without");
    for (uint16_t i = 0; i < errors.count; i++) {
        insist(memchr(errors.message[i], 0, KR_CONFIG_MESSAGE_MAX) != NULL, "messages end");
        insist(strlen(errors.message[i]) > 8 && !strchr(errors.message[i], '\n'), "a message is one line");
    }
    insist(!read || (config.n_stations >= 1 && config.face.n_listen >= 1), "a station and where to listen");
    for (uint16_t i = 0; read && i < config.n_stations; i++)
        insist_on_station(&config.station[i]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A file in memory; includes would be looked for beside it, where nothing is. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static char path[32];
    static int fd = -1;
    if (fd < 0) {
        fd = memfd_create("fuzz_config", 0);
        snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    }
    insist(fd >= 0 && ftruncate(fd, 0) == 0 && pwrite(fd, data, size, 0) == (ssize_t)size, "a file to write");
    insist_on(kr_config_read(path, &config, &errors));
    return 0;
}

#ifndef KR_FUZZ
static uint64_t state;

/* splitmix64: Steele, Lea and Flood 2014, doi 10.1145/2660193.2660195. */
static uint64_t draw(uint64_t below)
{
    uint64_t z = state += 0x9e3779b97f4a7c15u;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return (z ^ z >> 31) % below;
}

static size_t replace(char *text, size_t n, size_t room, size_t at, size_t length, const char *with)
{
    size_t m = strlen(with);
    if (n - length + m > room)
        return n;
    memmove(text + at + m, text + at + length, n - at - length);
    memcpy(text + at, with, m);
    return n - length + m;
}

/* A byte, a number, a word, a piece that is doubled or left out: what people and broken disks do. */
static size_t mutate(char *text, size_t n, size_t room)
{
    static const char *const pieces[] = {"0",
                                         "-1",
                                         "1e9",
                                         "4294967297",
                                         "99999999999999999999",
                                         "0x",
                                         "\"1/0 in\"",
                                         "\"3 5/8 in\"",
                                         "true",
                                         "( )",
                                         "[ ]",
                                         "{ }",
                                         "{",
                                         "}",
                                         ";",
                                         "\"",
                                         "/*",
                                         "@include \"x\"\n",
                                         "\n@include \"",
                                         "count = 128;",
                                         "2147483647",
                                         "0.0001",
                                         "1000000",
                                         "5",
                                         "\"absent\"",
                                         "1.5"};
    size_t at = draw(n), length = draw(2) ? 0 : draw(24);
    length = at + length > n ? n - at : length;
    if (draw(4) == 0) {
        text[at] = (char)draw(256);
        return n;
    }
    if (draw(3) == 0) { /* a number becomes another */
        at = (size_t)(at + strcspn(text + at, "0123456789"));
        length = strspn(text + at, "0123456789.");
    }
    return at + length > n ? n : replace(text, n, room, at, length, pieces[draw(sizeof pieces / sizeof pieces[0])]);
}

static size_t load(const char *path, char *text, size_t room)
{
    FILE *file = fopen(path, "rb");
    insist(file != NULL, "an example to begin with; run it from the top of the tree");
    size_t n = fread(text, 1, room, file);
    fclose(file);
    return n;
}

int main(int argc, char **argv)
{
    static const char *const examples[] = {"config/small-shear.cfg", "config/razor.cfg", "config/wide-shear.cfg",
                                           "config/score.cfg"};
    static char text[16384];
    long runs = argc > 1 ? strtol(argv[1], NULL, 10) : 1000, accepted = 0;
    state = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    printf("fuzz_config: %ld runs, seed %llu\n", runs, (unsigned long long)state);
    for (long i = 0; i < runs; i++) {
        size_t n = load(examples[i % 4], text, sizeof text - 1);
        for (uint64_t k = draw(4) + 1; k > 0; k--) {
            text[n] = '\0';
            n = mutate(text, n, sizeof text - 1);
        }
        LLVMFuzzerTestOneInput((const uint8_t *)text, n);
        accepted += errors.count == 0;
    }
    printf("fuzz_config: %ld were accepted\n", accepted);
    return accepted > 0 && accepted < runs ? EXIT_SUCCESS : EXIT_FAILURE; /* else it tested one side only */
}
#endif
