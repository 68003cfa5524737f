/* face_host: serves a face with a made-up station behind it, for the tests and benchmarks that need a
 * server of its own process. It prints "port N", then runs until SIGTERM, then prints what it counted as
 * one JSON object.
 *
 * The station: every word pair of rail 1's HOLDER_POSITION, HOLDER_TARGET and HOLDER_DEVIATION carries the
 * cycle's number, so that a reader sees whether what it got is of one cycle. An order is judged for `judge`
 * cycles and its number then stands in VERDICT_NUMBER; a command's number in COMMAND_ECHO; a Start makes it
 * move until control changes or a Stop comes, and a while longer. With `stale_ms`, a heartbeat that stands
 * still that long drops control.
 *
 * Arguments are name=value: port period_ms connections per_address queued rate idle_ms partial_ms
 * first_write judge stale_ms watch (1: measure by CPU time what keeps a cycle waiting; costs a system call
 * a request). */
#include <fcntl.h>
#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "kniferail/face.h"

#define NS_PER_MS     1000000u
#define STATIONS      2
#define WIND_DOWN     5 /* cycles from the end of control to standstill */
#define RUN_UP_CYCLES 3 /* not counted: the loop is just starting */

struct station {
    uint16_t judging; /* cycles that the request is still judged */
    uint16_t request, verdict, command, generation, heartbeat;
    bool moving;
    uint16_t wind_down;
    uint64_t heartbeat_ns;
};

/* There if the counting allocator is preloaded. */
unsigned long face_counted_allocations(void) __attribute__((weak));

static struct {
    uv_loop_t loop;
    uv_timer_t timer;
    uv_prepare_t turn;
    uv_signal_t terminate;
    struct kr_face *face;
    struct kr_face_config config;
    struct station station[STATIONS];
    struct kr_image image;
    unsigned period_ms, judge, stale_ms;
    bool watch;
    uint64_t due_ns;
    uint64_t cpu_ns; /* when the cycle was last seen not to be due */
    uint32_t cycles, missed;
    uint32_t missed_running; /* of these, missed while this process had the processor */
    int schedstat;           /* the kernel's account of this process, open, or -1 */
    uint64_t waited_ns;      /* for the processor, as of the last cycle */
    uint64_t latest_ns, longest_cpu_ns;
} host;

static uint64_t cpu_now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (uint64_t)now.tv_sec * 1000000000u + (uint64_t)now.tv_nsec;
}

/* How long this process was ready to run and another one had the processor: the second figure in
 * /proc/self/schedstat (Linux, Documentation/scheduler/sched-stats). 0 where there is none. */
static uint64_t waited_now_ns(void)
{
    char text[100];
    uint64_t waited = 0;
    ssize_t n = host.schedstat < 0 ? -1 : pread(host.schedstat, text, sizeof text - 1, 0);
    if (n <= 0)
        return 0;
    text[n] = '\0';
    sscanf(text, "%*u %" SCNu64, &waited);
    return waited;
}

/* ---- the made-up station ------------------------------------------------------------------------------- */

static void take_command(struct station *s, const struct kr_snapshot *command)
{
    uint16_t code = kr_snapshot_u16(command, KR_BLOCK_COMMAND, KR_REG_COMMAND, 0);
    s->command = kr_snapshot_u16(command, KR_BLOCK_COMMAND, KR_REG_COMMAND_NUMBER, 0);
    if (code == KR_COMMAND_START)
        s->moving = true;
    if (code == KR_COMMAND_STOP && s->moving)
        s->wind_down = WIND_DOWN;
}

static void take_request(struct station *s, const struct kr_snapshot *request)
{
    s->request = kr_snapshot_u16(request, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER, 0);
    s->judging = (uint16_t)host.judge;
    if (s->judging == 0)
        s->verdict = s->request;
}

static void step(struct station *s, const struct kr_face_take *take)
{
    if (s->judging > 0 && --s->judging == 0)
        s->verdict = s->request;
    if (take->request.present)
        take_request(s, &take->request);
    if (take->command.present)
        take_command(s, &take->command);
    if (take->control_generation != s->generation && s->moving)
        s->wind_down = WIND_DOWN;
    s->generation = take->control_generation;
    if (s->wind_down > 0 && --s->wind_down == 0)
        s->moving = false;
    if (take->line[0] != s->heartbeat || !take->control_held)
        s->heartbeat_ns = uv_hrtime();
    s->heartbeat = take->line[0];
}

static void fill_arrays(void)
{
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++) {
        kr_image_set_32(&host.image, KR_REG_HOLDER_POSITION, 0, i, host.cycles);
        kr_image_set_32(&host.image, KR_REG_HOLDER_TARGET, 0, i, host.cycles);
        kr_image_set_32(&host.image, KR_REG_HOLDER_DEVIATION, 0, i, host.cycles);
    }
}

static void publish(uint16_t index, struct station *s, const struct kr_face_take *take)
{
    struct kr_image *image = &host.image;
    kr_image_clear(image, host.config.station[index].format);
    kr_image_set_32(image, KR_REG_WORD_ORDER_PROOF, 0, 0, KR_MAP_WORD_ORDER_PROOF);
    kr_image_set_u16(image, KR_REG_MAP_VERSION, 0, 0, KR_MAP_VERSION);
    kr_image_set_u16(image, KR_REG_PLC_HEARTBEAT_ECHO, 0, 0, take->line[0]);
    kr_image_set_u16(image, KR_REG_PERMISSIVES_SEEN, 0, 0, take->line[1]);
    kr_image_set_u16(image, KR_REG_COMMAND_ECHO, 0, 0, s->command);
    kr_image_set_u16(image, KR_REG_REQUEST_BUSY, 0, 0, s->judging > 0);
    kr_image_set_u16(image, KR_REG_VERDICT_NUMBER, 0, 0, s->verdict);
    kr_image_set_u16(image, KR_REG_STATUS, 0, 0, s->moving ? KR_STATUS_MOVING : 0);
    kr_image_set_32(image, KR_REG_CYCLES, 0, 0, host.cycles);
    kr_image_set_32(image, KR_REG_OVERRUNS, 0, 0, host.missed);
    kr_image_set_text(image, KR_REG_STATION_NAME, host.config.station[index].name);
    fill_arrays();
    bool stale =
        host.stale_ms > 0 && take->control_held && uv_hrtime() - s->heartbeat_ns > (uint64_t)host.stale_ms * NS_PER_MS;
    struct kr_face_state state = {.request_busy = s->judging > 0,
                                  .drop_control = stale,
                                  .moving = s->moving,
                                  .control_generation = take->control_generation};
    kr_face_publish(host.face, index, image, &state);
}

/* ---- the cycle ----------------------------------------------------------------------------------------- */

static bool cycle_due(void *arg)
{
    (void)arg;
    bool due = uv_hrtime() >= host.due_ns;
    if (!due && host.watch)
        host.cpu_ns = cpu_now_ns();
    return due;
}

/* Each turn of the loop could have run a cycle that was due: what the face did in earlier turns held none up. */
static void on_turn(uv_prepare_t *turn)
{
    (void)turn;
    cycle_due(NULL);
}

static void count(uint64_t now_ns)
{
    uint64_t late_ns = now_ns - host.due_ns;
    if (host.cycles < RUN_UP_CYCLES)
        return;
    if (late_ns > host.latest_ns)
        host.latest_ns = late_ns;
    if (late_ns > (uint64_t)host.period_ms * NS_PER_MS)
        host.missed++;
    if (!host.watch)
        return;
    uint64_t held_ns = cpu_now_ns() - host.cpu_ns, waited_ns = waited_now_ns();
    if (held_ns > host.longest_cpu_ns)
        host.longest_cpu_ns = held_ns;
    if (late_ns > (uint64_t)host.period_ms * NS_PER_MS + (waited_ns - host.waited_ns))
        host.missed_running++;
    host.waited_ns = waited_ns;
}

static void on_timer(uv_timer_t *timer);

/* A timer counts whole milliseconds of the loop's own clock and may come a little early. Never 0: libuv
 * would call it again and again without a look at the sockets. */
static void wait_for_cycle(uint64_t now_ns)
{
    uint64_t left_ns = now_ns >= host.due_ns ? 0 : host.due_ns - now_ns;
    uv_timer_start(&host.timer, on_timer, left_ns / NS_PER_MS + 1, 0);
}

static void on_timer(uv_timer_t *timer)
{
    uint64_t now_ns = uv_hrtime(), period_ns = (uint64_t)host.period_ms * NS_PER_MS;
    (void)timer;
    if (now_ns >= host.due_ns) {
        count(now_ns);
        host.cycles++;
        for (uint16_t i = 0; i < STATIONS; i++) {
            struct kr_face_take take;
            kr_face_take(host.face, i, &take);
            step(&host.station[i], &take);
            publish(i, &host.station[i], &take);
        }
        host.due_ns += period_ns;
        if (host.due_ns < now_ns)
            host.due_ns = now_ns + period_ns;
        host.cpu_ns = host.watch ? cpu_now_ns() : 0;
    }
    wait_for_cycle(uv_hrtime());
}

/* ---- life ---------------------------------------------------------------------------------------------- */

static void report(void)
{
    const struct kr_face_counters *c = kr_face_counters(host.face);
    printf("{\"cycles\": %" PRIu32 ", \"missed\": %" PRIu32 ", \"missed_running\": %" PRIu32 ", \"latest_us\": %" PRIu64
           ", \"longest_cpu_us\": %" PRIu64 ", \"connections\": %" PRIu32 ", \"connections_most\": %" PRIu32
           ", \"accepted\": %" PRIu64 ", \"refused\": %" PRIu64 ", \"evicted\": %" PRIu64 ", \"expired\": %" PRIu64
           ", \"broken\": %" PRIu64 ", \"requests\": %" PRIu64 ", \"exceptions\": %" PRIu64 ", \"discarded\": %" PRIu64
           ", \"postponed\": %" PRIu64 ", \"cpu_ms\": %" PRIu64 ", \"allocations\": %lu}\n",
           host.cycles, host.missed, host.missed_running, host.latest_ns / 1000, host.longest_cpu_ns / 1000,
           c->connections, c->connections_most, c->accepted, c->refused, c->evicted, c->expired, c->broken, c->requests,
           c->exceptions, c->discarded, c->postponed, cpu_now_ns() / NS_PER_MS,
           face_counted_allocations != NULL ? face_counted_allocations() : 0);
    fflush(stdout);
}

static void on_terminate(uv_signal_t *handle, int number)
{
    (void)number;
    report();
    uv_timer_stop(&host.timer);
    uv_close((uv_handle_t *)&host.timer, NULL);
    uv_close((uv_handle_t *)&host.turn, NULL);
    uv_close((uv_handle_t *)handle, NULL);
    kr_face_close(host.face, NULL, NULL);
}

static void log_line(void *arg, int priority, const char *text)
{
    (void)arg;
    fprintf(stderr, "<%d>%s\n", priority, text);
}

static uint32_t argument(int argc, char **argv, const char *name, uint32_t otherwise)
{
    size_t length = strlen(name);
    for (int i = 1; i < argc; i++)
        if (strncmp(argv[i], name, length) == 0 && argv[i][length] == '=')
            return (uint32_t)strtoul(argv[i] + length + 1, NULL, 10);
    return otherwise;
}

static void set_rule(struct kr_face_rule *rule, const char *text, enum kr_right right)
{
    if (!kr_prefix_from_text(text, &rule->prefix))
        abort();
    rule->right = right;
}

/* All of loopback maintains, but 127.0.0.2 to .3 control, .4 reads, .9 nothing; .6 and .7 are the group
 * "cabinet". */
static void configure(int argc, char **argv)
{
    struct kr_face_limits limits = kr_face_limits_default();
    host.config = (struct kr_face_config){
        .n_listen = 1,
        .listen = {{"127.0.0.1", (uint16_t)argument(argc, argv, "port", 0)}},
        .n_stations = STATIONS,
        .station = {{.name = "north", .unit_id = 1},
                    {.name = "south", .unit_id = 2, .format = {.low_word_first = true}}},
        .limits = {.connections = argument(argc, argv, "connections", limits.connections),
                   .connections_per_address = argument(argc, argv, "per_address", limits.connections_per_address),
                   .queued_answers = argument(argc, argv, "queued", limits.queued_answers),
                   .requests_per_s = argument(argc, argv, "rate", limits.requests_per_s),
                   .idle_ms = argument(argc, argv, "idle_ms", limits.idle_ms),
                   .partial_ms = argument(argc, argv, "partial_ms", limits.partial_ms)},
        .n_rules = 3,
        .n_groups = 1,
        .control_by_first_write = argument(argc, argv, "first_write", 0) != 0,
        .identity = {"the kniferail project", "face_host", KR_VERSION, "", "test host", "", ""},
    };
    set_rule(&host.config.rule[0], "127.0.0.2/31", KR_RIGHT_CONTROL);
    set_rule(&host.config.rule[1], "127.0.0.4", KR_RIGHT_READ);
    set_rule(&host.config.rule[2], "127.0.0.9", KR_RIGHT_NONE);
    struct kr_face_group *group = &host.config.group[0];
    strcpy(group->name, "cabinet");
    group->n_prefixes = 1;
    if (!kr_prefix_from_text("127.0.0.6/31", &group->prefix[0]))
        abort();
    host.period_ms = argument(argc, argv, "period_ms", 10);
    host.judge = argument(argc, argv, "judge", 3);
    host.stale_ms = argument(argc, argv, "stale_ms", 0);
    host.watch = argument(argc, argv, "watch", 0) != 0;
    host.schedstat = host.watch ? open("/proc/self/schedstat", O_RDONLY) : -1;
}

int main(int argc, char **argv)
{
    char error[200];
    struct rlimit files = {8192, 8192};
    setrlimit(RLIMIT_NOFILE, &files); /* if that is not allowed, opening the face will tell */
    configure(argc, argv);
    struct kr_face_hooks hooks = {.cycle_due = cycle_due, .log = log_line};
    if (uv_loop_init(&host.loop) != 0)
        return EXIT_FAILURE;
    host.due_ns = uv_hrtime();
    host.face = kr_face_open(&host.loop, &host.config, &hooks, error, sizeof error);
    if (host.face == NULL) {
        fprintf(stderr, "%s\n", error);
        return EXIT_FAILURE;
    }
    uv_timer_init(&host.loop, &host.timer);
    uv_prepare_init(&host.loop, &host.turn);
    uv_prepare_start(&host.turn, on_turn);
    uv_signal_init(&host.loop, &host.terminate);
    uv_signal_start(&host.terminate, on_terminate, SIGTERM);
    wait_for_cycle(host.due_ns);
    printf("port %u\n", kr_face_port(host.face));
    fflush(stdout);
    uv_run(&host.loop, UV_RUN_DEFAULT);
    return uv_loop_close(&host.loop) == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
