/* What recording costs the cycle, in the processor time of its thread: for 1 and for 32 stations, each of two rails with
 * 100 holders that set up orders, one cycle after the other as the daemon makes them. Aimed at are 5 us a station in the
 * mean and 50 us in any cycle.
 *
 *   trace_bench [SECONDS]   of machine time for each number of stations; 300 unless told */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rig.h"

#define STATIONS_MOST 32
#define HOLDERS       100

struct bench {
    struct rig rig;
    struct kr_trace_ring ring;
    void *memory;
};

static struct bench *bench[STATIONS_MOST];

static int64_t cpu_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void *needed(void *memory)
{
    if (memory == NULL)
        abort();
    return memory;
}

static void begin(struct bench *b)
{
    static const int32_t width_um[] = {110000, 95000, 130000, 105000, 120000, 90000, 115000, 100000};
    b->memory = needed(malloc(KR_TRACE_BYTES));
    memset(b->memory, 0xFF, KR_TRACE_BYTES); /* every page, as the daemon does */
    rig_defaults(&b->rig, 2, HOLDERS, 1);
    kr_trace_ring_init(&b->ring, b->memory);
    rig_begin(&b->rig);
    rig_order(&b->rig, 1, 1000000, width_um, sizeof width_um / sizeof width_um[0]);
    if (rig_request(&b->rig, KR_REQUEST_STAGE) != KR_OK ||
        rig_command(&b->rig, KR_COMMAND_START, KR_JOB_CHANGEOVER) != KR_OK)
        printf("the order was refused\n");
    kr_trace_ring_begin(&b->ring, b->rig.station, 0);
}

static void end(struct bench *b)
{
    rig_end(&b->rig);
    free(b->memory);
}

/* What reading the clock twice takes. */
static int64_t of_the_clock_ns(void)
{
    int64_t least = INT64_MAX;
    for (int i = 0; i < 10000; i++) {
        int64_t from = cpu_ns(), took = cpu_ns() - from;
        least = took < least ? took : least;
    }
    return least;
}

struct cost {
    int64_t cycles, sum_ns, worst_ns, over;
    int64_t checkpoints, of_checkpoints_ns; /* cycles in which one is copied, and what they took */
};

static void cycle(struct bench *b, int64_t clock_ns, struct cost *cost)
{
    struct kr_station_in in;
    rig_cycle(&b->rig);
    in = b->rig.in; /* the machine and the planner have spoiled the cache before, as in the daemon */
    uint64_t segments = b->ring.segments;
    int64_t from_ns = cpu_ns();
    kr_trace_ring_step(&b->ring, b->rig.station, &in, &b->rig.out, b->rig.time_us / 1000);
    int64_t took_ns = cpu_ns() - from_ns - clock_ns;
    bool copied = b->ring.segments != segments;
    cost->checkpoints += copied;
    cost->of_checkpoints_ns += copied ? took_ns : 0;
    cost->cycles++;
    cost->sum_ns += took_ns;
    cost->over += took_ns > 50000;
    cost->worst_ns = took_ns > cost->worst_ns ? took_ns : cost->worst_ns;
}

static void run(int stations, int64_t seconds)
{
    struct cost cost = {0};
    int64_t clock_ns = of_the_clock_ns();
    uint64_t segments = 0;
    for (int i = 0; i < stations; i++)
        begin(bench[i]);
    for (int64_t n = seconds * 1000 / RIG_PERIOD_MS; n > 0; n--)
        for (int i = 0; i < stations; i++)
            cycle(bench[i], clock_ns, &cost);
    for (int i = 0; i < stations; i++) {
        segments += bench[i]->ring.segments;
        end(bench[i]);
    }
    double checkpoints = (double)(cost.checkpoints > 0 ? cost.checkpoints : 1);
    printf("%2d stations: mean %.2f us; %lld cycles that copy a checkpoint, mean %.1f us; %lld of %lld "
           "cycles above "
           "50 us, worst %.1f us; %.0f s of machine time in a segment\n",
           stations, (double)cost.sum_ns / (double)cost.cycles / 1000, (long long)cost.checkpoints,
           (double)cost.of_checkpoints_ns / checkpoints / 1000, (long long)cost.over, (long long)cost.cycles,
           (double)cost.worst_ns / 1000, (double)seconds * stations / (double)segments);
}

int main(int argc, char **argv)
{
    int64_t seconds = argc > 1 ? strtoll(argv[1], NULL, 10) : 300;
    for (int i = 0; i < STATIONS_MOST; i++)
        bench[i] = needed(calloc(1, sizeof *bench[i]));
    run(1, seconds);
    run(STATIONS_MOST, seconds);
    for (int i = 0; i < STATIONS_MOST; i++)
        free(bench[i]);
    return 0;
}
