/* What recording costs the cycle, and what `log = "steps"` adds, in the processor time of the cycle's thread: for 1 and
 * for 32 stations, each of two rails with 100 holders that set up an order, one cycle after the other as the daemon
 * makes them. Aimed at are 5 us a station in the mean and 50 us in any cycle.
 *
 * The clock is CLOCK_THREAD_CPUTIME_ID. It stands still while another thread has the processor, but it counts the
 * interrupts that the kernel serves meanwhile, and the switch itself. Neither is this program's doing, and neither
 * comes twice at the same place: so the same run, which is deterministic, is made RUNS times, and of each cycle the
 * least counts. What a cycle costs by itself, a checkpoint that is copied for instance, it costs in each run, with cold
 * caches in each. What was measured without that is printed, too, with the cycles in which the kernel gave the
 * processor to somebody else (ru_nivcsw of getrusage(2)).
 *
 *   trace_bench [SECONDS]   of machine time for each number of stations; 120 unless told
 *
 * Exit status 1: an order was refused, so that there is nothing to measure. */
#define _GNU_SOURCE /* RUSAGE_THREAD */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "log.h"
#include "rig.h"
#include "story_log.h"

#define STATIONS_MOST 32
#define HOLDERS       100
#define RUNS          3
#define LIMIT_NS      50000

struct bench {
    struct rig rig;
    struct kr_trace_ring ring;
    struct story_log story;
    void *memory;
};

static struct bench *bench[STATIONS_MOST];

static int64_t cpu_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

/* How often the kernel has given the processor to somebody else. */
static long switches(void)
{
    struct rusage usage;
    return getrusage(RUSAGE_THREAD, &usage) == 0 ? usage.ru_nivcsw : 0;
}

static void *needed(void *memory)
{
    if (memory == NULL)
        abort();
    return memory;
}

static void must_be_taken(enum kr_code code, const char *what)
{
    if (code == KR_OK)
        return;
    printf("trace_bench: %s was refused with code %d: nothing is measured\n", what, (int)code);
    exit(EXIT_FAILURE);
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
    must_be_taken(rig_request(&b->rig, KR_REQUEST_STAGE), "the order");
    must_be_taken(rig_command(&b->rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), "Start");
    kr_trace_ring_begin(&b->ring, b->rig.station, 0);
    snprintf(b->rig.config.name, sizeof b->rig.config.name, "a station");
    story_log_open(&b->story, &b->rig.config);
    story_log_switch(&b->story, true);
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

/* ---- one kind of work ------------------------------------------------------------------------------------------ */

enum work { RECORDING, TELLING, N_WORKS };
static const char *const work_name[N_WORKS] = {"recording", "telling (log = \"steps\")"};

struct cost {
    int64_t n;                        /* cycles of a station */
    int32_t *least_ns;                /* of each, over the runs */
    int64_t worst_ns, over, switched; /* as measured, all runs together */
};

static void note(struct cost *cost, int64_t index, int64_t took_ns, bool switched)
{
    int32_t ns = (int32_t)(took_ns < 0 ? 0 : took_ns > INT32_MAX ? INT32_MAX : took_ns);
    if (ns < cost->least_ns[index])
        cost->least_ns[index] = ns;
    cost->worst_ns = took_ns > cost->worst_ns ? took_ns : cost->worst_ns;
    cost->over += took_ns > LIMIT_NS;
    cost->switched += switched;
}

static void print_cost(enum work work, int stations, const struct cost *cost)
{
    int64_t sum_ns = 0, worst_ns = 0, over = 0, worst_together_ns = 0;
    for (int64_t i = 0; i < cost->n; i += stations) {
        int64_t together_ns = 0;
        for (int64_t k = i; k < i + stations; k++) {
            together_ns += cost->least_ns[k];
            worst_ns = cost->least_ns[k] > worst_ns ? cost->least_ns[k] : worst_ns;
            over += cost->least_ns[k] > LIMIT_NS;
        }
        sum_ns += together_ns;
        worst_together_ns = together_ns > worst_together_ns ? together_ns : worst_together_ns;
    }
    printf("  %s: mean %.2f us, worst %.1f us, %lld of %lld cycles above 50 us\n", work_name[work],
           (double)sum_ns / (double)cost->n / 1000, (double)worst_ns / 1000, (long long)over, (long long)cost->n);
    if (stations > 1)
        printf("    all stations together: mean %.1f us, worst %.1f us\n",
               (double)sum_ns * stations / (double)cost->n / 1000, (double)worst_together_ns / 1000);
    printf("    as measured, the kernel's work included: worst %.1f us, %lld of %lld above 50 us; in %lld the "
           "processor was taken away\n",
           (double)cost->worst_ns / 1000, (long long)cost->over, (long long)cost->n * RUNS, (long long)cost->switched);
}

/* ---- a run ----------------------------------------------------------------------------------------------------- */

struct measured {
    int64_t clock_ns; /* what reading the clock takes */
    struct cost cost[N_WORKS];
    int64_t took_ns[N_WORKS][STATIONS_MOST]; /* in this cycle */
    bool switched[N_WORKS][STATIONS_MOST];
};

static struct {
    int64_t from_ns;
    long switches;
} started;

static void start(void)
{
    started.switches = switches();
    started.from_ns = cpu_ns();
}

static void stop(struct measured *m, enum work work, int station)
{
    m->took_ns[work][station] += cpu_ns() - started.from_ns - m->clock_ns;
    m->switched[work][station] |= switches() != started.switches;
}

/* The machine and the planner have spoiled the cache before, as in the daemon. */
static void cycle(struct measured *m, int station)
{
    struct bench *b = bench[station];
    rig_cycle(&b->rig);
    struct kr_station_in in = b->rig.in;
    start();
    kr_trace_ring_step(&b->ring, b->rig.station, &in, &b->rig.out, b->rig.time_us / 1000);
    stop(m, RECORDING, station);
    memset(&b->story.buckets, 0, sizeof b->story.buckets); /* no line is left out: time flies here */
    start();
    story_log_step(&b->story, &in, &b->ring.last.steps);
    stop(m, TELLING, station);
}

/* As the daemon does: at most one of them copies its state in a cycle, as far as that can wait. */
static void renew_one(struct measured *m, int stations)
{
    bool done = false;
    for (int i = 0; i < stations && !done; i++) {
        start();
        done = kr_trace_ring_renew(&bench[i]->ring, bench[i]->rig.station, bench[i]->rig.time_us / 1000);
        stop(m, RECORDING, i);
    }
}

static void run_once(struct measured *m, int stations)
{
    for (int i = 0; i < stations; i++)
        begin(bench[i]);
    for (int64_t n = 0; n < m->cost[RECORDING].n; n += stations) {
        memset(m->took_ns, 0, sizeof m->took_ns);
        memset(m->switched, 0, sizeof m->switched);
        for (int i = 0; i < stations; i++)
            cycle(m, i);
        renew_one(m, stations);
        for (int i = 0; i < stations; i++)
            for (int work = 0; work < N_WORKS; work++)
                note(&m->cost[work], n + i, m->took_ns[work][i], m->switched[work][i]);
    }
}

static uint64_t segments_then_end(int stations)
{
    uint64_t segments = 0;
    for (int i = 0; i < stations; i++) {
        segments += bench[i]->ring.segments;
        end(bench[i]);
    }
    return segments;
}

static void run(int stations, int64_t seconds)
{
    static struct measured m;
    uint64_t segments = 0;
    m = (struct measured){.clock_ns = of_the_clock_ns()};
    for (int work = 0; work < N_WORKS; work++) {
        m.cost[work].n = seconds * 1000 / RIG_PERIOD_MS * stations;
        m.cost[work].least_ns = needed(malloc((size_t)m.cost[work].n * sizeof m.cost[work].least_ns[0]));
        for (int64_t i = 0; i < m.cost[work].n; i++)
            m.cost[work].least_ns[i] = INT32_MAX;
    }
    for (int i = 0; i < RUNS; i++) {
        run_once(&m, stations);
        segments = segments_then_end(stations);
    }
    printf("%d station%s, %.1f s of machine time in a segment\n", stations, stations > 1 ? "s" : "",
           (double)seconds * stations / (double)segments);
    for (int work = 0; work < N_WORKS; work++) {
        print_cost((enum work)work, stations, &m.cost[work]);
        free(m.cost[work].least_ns);
    }
    fflush(stdout);
}

int main(int argc, char **argv)
{
    int64_t seconds = argc > 1 ? strtoll(argv[1], NULL, 10) : 120;
    if (seconds < 1 || freopen("/dev/null", "w", stderr) == NULL || !log_open(false)) {
        printf("trace_bench: SECONDS is a number from 1 on, and there must be a thread for the log\n");
        return EXIT_FAILURE;
    }
    for (int i = 0; i < STATIONS_MOST; i++)
        bench[i] = needed(calloc(1, sizeof *bench[i]));
    run(1, seconds);
    run(STATIONS_MOST, seconds);
    for (int i = 0; i < STATIONS_MOST; i++)
        free(bench[i]);
    log_close();
    return EXIT_SUCCESS;
}
