/* fuzz_trace: any bytes as a trace's file, and as the records of a segment. What must hold: nothing outside the
 * memory is touched; a file is accepted whole or refused in one line; records end, each inside its segment. No state
 * is replayed here: that of a file whose checksums are right is taken as it stands (trace.h).
 *
 * The first byte says as what. With libFuzzer (KR_FUZZ), or as a program of its own that spoils a sound file by a fixed
 * seed: fuzz_trace RUNS SEED. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/layout.h"
#include "segment.h"
#include "trace.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static uint64_t files, refused, cycles, damaged;

static void insist(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz_trace: not so: %s\n", what);
    abort();
}

static void as_file(const uint8_t *data, size_t n)
{
    char error[256] = "";
    struct kr_trace *trace = kr_trace_read(data, n, error, sizeof error);
    files++;
    refused += trace == NULL;
    insist(trace != NULL || (strlen(error) > 8 && strchr(error, '\n') == NULL), "refused in one line");
    kr_trace_close(trace);
}

/* Behind a checkpoint and images of zeros. The number of records comes with the bytes. */
static void as_records(const uint8_t *data, size_t n)
{
    static struct kr_trace trace;
    struct kr_trace_frame frame;
    struct segment_head head = {.goes_on = 1};
    char error[256];
    if (n < sizeof head.records)
        return;
    memcpy(&head.records, data, sizeof head.records);
    trace.bytes[0] = segment_records() + n - sizeof head.records;
    trace.segment[0] = calloc(1, trace.bytes[0]);
    insist(trace.segment[0] != NULL, "there is memory");
    memcpy(trace.segment[0], &head, sizeof head);
    memcpy(trace.segment[0] + segment_records(), data + sizeof head.records, n - sizeof head.records);
    trace.head.n_segments = 1;
    snprintf(trace.head.layout, sizeof trace.head.layout, "%s", kr_layout_digest());
    struct kr_trace_cursor *cursor = kr_trace_begin(&trace, error, sizeof error);
    insist(cursor != NULL, "its layout is this one's");
    enum kr_trace_next next;
    uint64_t read = 0;
    while ((next = kr_trace_next(cursor, &frame)) == KR_TRACE_FRAME)
        read++;
    insist(read <= n, "each record takes a byte at least");
    insist(next == KR_TRACE_DAMAGED || read == head.records, "all records, or damaged");
    cycles += read;
    damaged += next == KR_TRACE_DAMAGED;
    kr_trace_end(cursor);
    free(trace.segment[0]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n == 0)
        return 0;
    if (data[0] % 2 == 0)
        as_file(data + 1, n - 1);
    else
        as_records(data + 1, n - 1);
    return 0;
}

#ifndef KR_FUZZ

#include <unistd.h>

#include "rig.h"

static uint8_t sound[1 << 20];
static size_t sound_bytes;
static struct kr_trace_frozen frozen;

/* A changeover of a small station. */
static void make_sound(void)
{
    static struct rig rig;
    static struct kr_trace_ring ring;
    struct kr_trace_head head = {.n_rails = 2};
    char path[64], error[256];
    void *memory = malloc(KR_TRACE_BYTES);
    insist(memory != NULL, "there is memory");
    snprintf(path, sizeof path, "/tmp/fuzz-trace-%ld", (long)getpid());
    rig_small_ideal(&rig, 2);
    kr_trace_ring_init(&ring, memory);
    rig.trace = &ring;
    rig_begin(&rig);
    rig_small_order(&rig, 1);
    insist(rig_request(&rig, KR_REQUEST_STAGE) == KR_OK, "the order is staged");
    insist(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER) == KR_OK, "the changeover is started");
    rig_run_ms(&rig, 30000);
    insist(kr_trace_ring_freeze(&ring, rig.station, 0, &frozen), "it can be frozen");
    insist(kr_trace_write(path, &head, &frozen, error, sizeof error), "it can be written");
    FILE *file = fopen(path, "rb");
    insist(file != NULL, "it is there");
    sound[0] = 0;
    sound_bytes = 1 + fread(sound + 1, 1, sizeof sound - 1, file);
    fclose(file);
    unlink(path);
    rig_end(&rig);
}

static size_t between(uint64_t *state, size_t low, size_t high)
{
    *state += UINT64_C(0x9E3779B97F4A7C15);
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return low + (size_t)((z ^ (z >> 31)) % (high - low + 1));
}

/* The file with a byte changed, cut off, or its records with some bytes changed. */
static size_t spoil(uint8_t *to, size_t room, uint64_t *state)
{
    const unsigned char *records = frozen.segment[0] + segment_records();
    size_t n_records = frozen.bytes[0] - segment_records(), n = sound_bytes;
    uint32_t count = (uint32_t)between(state, 0, 400);
    if (between(state, 0, 1) == 0) {
        memcpy(to, sound, n);
        if (between(state, 0, 2) == 0)
            return between(state, 0, n);
        to[between(state, 1, n - 1)] ^= (uint8_t)(1u << between(state, 0, 7));
        return n;
    }
    n = between(state, 0, n_records < room - 5 ? n_records : room - 5);
    to[0] = 1;
    memcpy(to + 1, &count, sizeof count);
    memcpy(to + 5, records, n);
    for (size_t i = between(state, 0, 5); i > 0 && n > 0; i--)
        to[5 + between(state, 0, n - 1)] = (uint8_t)between(state, 0, 255);
    return n + 5;
}

int main(int argc, char **argv)
{
    static uint8_t data[sizeof sound];
    long runs = argc > 1 ? strtol(argv[1], NULL, 10) : 1000;
    uint64_t state = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    make_sound();
    LLVMFuzzerTestOneInput(sound, sound_bytes);
    insist(files == 1 && refused == 0, "a sound file is accepted");
    for (long i = 0; i < runs; i++)
        LLVMFuzzerTestOneInput(data, spoil(data, sizeof data, &state));
    printf("fuzz_trace: %ld runs; of %llu files %llu refused; %llu cycles read, %llu segments damaged\n", runs,
           (unsigned long long)files, (unsigned long long)refused, (unsigned long long)cycles,
           (unsigned long long)damaged);
    return refused + 1 >= files && cycles > 0 && damaged > 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

#endif
