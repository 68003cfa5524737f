/* fuzz_drive: any bytes as what comes over a drive's wire, in both directions, and as a fault script.
 *
 * The first byte of an input says as what: a drive's answer to the positioner (over a socket), a
 * master's request to the simulated drive, a serial line's bytes, a fault script, or objects of a drive that say
 * something else than the machine while a station works. What must hold: nothing outside the memory is touched and no
 * number overflows, a transfer that isn't done changes no image, an answer fits its buffer, a refused script leaves the
 * old one, no carriage is sent beyond its travel.
 *
 * With libFuzzer (KR_FUZZ), or as a program of its own that makes its input itself: fuzz_drive RUNS SEED. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "line.h"
#include "mutate.h"
#include "rig.h"
#include "sim/script_read.h"
#include "sim/slave.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

/* libconfig 1.5 keeps the text of a string that a mistake of syntax interrupts. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\nleak:strbuf_append\n";
}

static struct sim_config config;
static struct sim_machine machine;
static struct sim_slave slave;
static uint64_t answered, refused, scripts, cycles, aborts;

static void insist(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz_drive: not so: %s\n", what);
    abort();
}

static void set_up(void)
{
    config = (struct sim_config){.seed = 1, .n_rails = 2, .inputs = SIM_INPUTS_ALL};
    for (int r = 0; r < 2; r++) {
        sim_rail_defaults(&config.rail[r]);
        config.rail[r].n_holders = 3;
        for (int32_t i = 0; i < 3; i++)
            config.rail[r].holder[i] = (struct sim_holder_config){.start_um = 100000 * i, .body_um = 20000};
    }
    insist(sim_machine_init(&machine, &config).what == NULL, "the machine is possible");
    sim_slave_init(&slave, &machine);
    for (int r = 0; r < 2; r++)
        kr_drivemap_standard(&slave.drive[r].map);
}

/* ---- a drive's answer ---------------------------------------------------------------------------------- */

static struct line line;
static struct port port;
static int far_end;

static void open_line(bool function_23)
{
    int pair[2];
    insist(socketpair(AF_UNIX, SOCK_STREAM, 0, pair) == 0, "there is a socket pair");
    memset(&port, 0, sizeof port);
    kr_drive_standard(&port.drive);
    port.drive.function_23 = function_23;
    line = (struct line){.link = port.drive.link, .fd = pair[0]};
    port.drive.link.lost_ms = 1;
    insist(pthread_mutex_init(&line.lock, NULL) == 0, "there is a lock");
    far_end = pair[1];
}

/* The transaction's number and the protocol's are made right, so that what lies behind them is looked at. */
static void feed_answer(const uint8_t *data, size_t n)
{
    uint8_t bytes[600] = {0, 1, 0, 0};
    n = n < sizeof bytes - 4 ? n : sizeof bytes - 4;
    memcpy(bytes + 4, data, n);
    insist(write(far_end, bytes, n + 4) == (ssize_t)(n + 4), "the socket takes it");
    shutdown(far_end, SHUT_WR);
}

static void try_answer(const uint8_t *data, size_t n)
{
    struct kr_axis_out out = {.serial = 1, .target_um = 123456};
    struct kr_axis_in in, before;
    if (n < 1)
        return;
    open_line(data[0] & 1);
    feed_answer(data + 1, n - 1);
    memset(&in, 0x5A, sizeof in);
    before = in;
    enum transfer t = line_exchange(&line, &port, &out, &in);
    insist(t == TRANSFER_DONE || memcmp(&in, &before, sizeof in) == 0, "only a whole answer makes an image");
    answered += t == TRANSFER_DONE;
    refused += t == TRANSFER_REFUSED;
    pthread_mutex_destroy(&line.lock);
    close(line.fd);
    close(far_end);
}

/* ---- a master's request -------------------------------------------------------------------------------- */

static void try_request(const uint8_t *data, size_t n)
{
    n = n < SIM_PDU_MAX ? n : SIM_PDU_MAX;
    uint8_t *request = malloc(n > 0 ? n : 1), *answer = malloc(SIM_PDU_MAX); /* of exact sizes, for the sanitizer */
    insist(request && answer, "there is memory");
    memcpy(request, data, n);
    size_t length = sim_slave_serve(&slave, n > 0 ? request[n - 1] & 1 : 0, request, n, answer);
    insist(length <= SIM_PDU_MAX, "an answer fits a PDU");
    insist(n == 0 || length >= 2, "every request has an answer");
    sim_machine_run(&machine, 5000);
    insist(!sim_machine_collision(&machine) || machine.axis[0].drive.state != KR_DRIVE_UNKNOWN, "the machine lives");
    free(request);
    free(answer);
}

static void try_serial(const uint8_t *data, size_t n)
{
    size_t length = sim_rtu_request_length(data, n);
    insist(length <= 13u + 255u, "a serial frame has an end");
    if (n > 2)
        (void)sim_rtu_crc(data, n - 2);
}

/* ---- a script ------------------------------------------------------------------------------------------ */

static void try_script(const uint8_t *data, size_t n)
{
    struct sim_script script = {.n = 63}, before = script;
    char error[200] = "";
    char *text = malloc(n + 1);
    insist(text != NULL, "there is memory");
    memcpy(text, data, n);
    text[n] = 0;
    bool good = sim_script_parse(text, "fuzz", &config, &script, error, sizeof error);
    insist(good || (memcmp(&script, &before, sizeof script) == 0 && error[0]), "a refused script says why, only");
    for (int i = 0; good && i < 20; i++) {
        sim_machine_run(&machine, 1000);
        (void)sim_script_step(&script, &machine);
    }
    scripts += good;
    free(text);
    if (good)
        set_up();
}

/* ---- a station ------------------------------------------------------------------------------------------ */

/* What one object of the drive says in the next cycles, in place of what the machine would have it say. */
struct lie {
    uint8_t object;
    uint8_t cycles;
    uint32_t raw;
};
static struct lie lie;

static void tell_lie(struct rig *rig)
{
    struct kr_drive_objects objects;
    struct kr_axis_in *in = &rig->in.axis[0];
    if (lie.cycles == 0)
        return;
    lie.cycles--;
    memset(&objects, 0, sizeof objects);
    kr_drivemap_write_in(&slave.drive[0].map, in, &objects);
    objects.raw[lie.object % KR_N_OBJECTS] = lie.raw;
    kr_drivemap_read_in(&slave.drive[0].map, &objects, in);
}

static void cycle(struct rig *rig)
{
    const struct kr_carriage_config *carriage = &rig->config.carriage[0];
    const struct kr_axis_out *out = &rig->out.axis[0];
    rig_cycle(rig);
    cycles++;
    if (!(out->controlword & KR_CW_NEW_SETPOINT) || out->mode != KR_MODE_PROFILE_POSITION)
        return;
    insist(out->target_um >= carriage->travel_min_um - carriage->travel_margin_um &&
               out->target_um <= carriage->travel_max_um + carriage->travel_margin_um,
           "no carriage is sent beyond its travel");
}

static void cycles_of(struct rig *rig, unsigned n)
{
    while (n-- > 0)
        cycle(rig);
}

/* A station in Idle with the small order staged, brought there once; each run goes on from a copy. The station is one
 * flat piece of memory; of what else the rig points to, the image is made anew in each cycle that reads it. */
static struct {
    struct rig rig;
    void *station; /* what is in rig.station at that moment */
} idle;

static void bring_to_idle(void)
{
    struct rig *rig = &idle.rig;
    rig_small_ideal(rig, 1);
    rig_start(rig);
    rig->in.controlled = true;
    rig->in.permissives = 0x1F;
    cycles_of(rig, 60);
    rig_small_order(rig, 1);
    rig_hand_over(rig, rig->session, KR_REQUEST_STAGE, 1);
    cycles_of(rig, 20);
    (void)rig_command(rig, KR_COMMAND_RESET, 0);
    cycles_of(rig, 60);
    idle.station = malloc(kr_station_size());
    insist(idle.station != NULL, "there is memory");
    memcpy(idle.station, rig->station, kr_station_size());
}

static void begin_job(struct rig *rig, uint8_t what)
{
    static const enum kr_job jobs[] = {KR_JOB_CHANGEOVER, KR_JOB_HOME, KR_JOB_PARK, KR_JOB_RELEASE};
    if (idle.station == NULL)
        bring_to_idle();
    *rig = idle.rig;
    memcpy(rig->station, idle.station, kr_station_size());
    (void)rig_command(rig, KR_COMMAND_START, jobs[what % 4]);
    rig->meddle = tell_lie;
}

/* Records of seven bytes: so many cycles of truth, an object, so many cycles of what it says, its four bytes. */
static void try_station(const uint8_t *data, size_t n)
{
    static struct rig rig;
    if (n < 1)
        return;
    begin_job(&rig, data[0]);
    for (size_t at = 1; at + 7 <= n && at < 7 * 30; at += 7) {
        const uint8_t *d = &data[at];
        cycles_of(&rig, d[0]);
        lie = (struct lie){d[1], (uint8_t)(1 + d[2] % 8),
                           (uint32_t)d[3] << 24 | (uint32_t)d[4] << 16 | (uint32_t)d[5] << 8 | d[6]};
        cycles_of(&rig, lie.cycles);
    }
    aborts += rig_state(&rig) == KR_STATE_ABORTED || rig_state(&rig) == KR_STATE_ABORTING;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (machine.config.n_rails == 0)
        set_up();
    if (n < 1)
        return 0;
    switch (data[0] % 5) {
    case 0: try_answer(data + 1, n - 1); break;
    case 1: try_request(data + 1, n - 1); break;
    case 2: try_serial(data + 1, n - 1); break;
    case 3: try_script(data + 1, n - 1); break;
    default: try_station(data + 1, n - 1); break;
    }
    return 0;
}

#ifndef KR_FUZZ

/* ---- without libFuzzer: seeds that are nearly right, and their mutations ------------------------------- */

static const struct mutate_seed seeds[] = {
    /* a whole answer to function 23: 15 registers; to 16; an exception; too short, too long */
    SEED("\x00\x01\x00\x21\x01\x17\x1E\x02\x37\x00\x01\x00\x00\x00\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00"
         "\x00\x00\x00"
         "\x00\x00\x00\x00\x00\x00\x00\x00\x00\x42"),
    SEED("\x00\x00\x00\x06\x01\x10\x00\x00\x00\x0C"),
    SEED("\x00\x01\x00\x03\x01\x97\x02"),
    SEED("\x01\x03\x00\x64\x00\x0F"),
    SEED("\x01\x06\x00\x00\x00\x06"),
    SEED("\x01\x10\x00\x02\x00\x02\x04\x00\x01\x00\x00"),
    SEED("\x01\x17\x00\x64\x00\x0F\x00\x00\x00\x01\x02\x00\x06"),
    SEED("\x02\x01\x17\x00\x64\x00\x0F\x00\x00\x00\x01\x02\x00\x06\x12\x34"),
    SEED("\x03"
         "faults = ( { fault = \"pin-stuck-out\"; rail = 1; phase = \"docking\"; nth = 2; for_ms = 3000; } "
         ");"),
    SEED("\x03"
         "faults = ( { fault = \"moved-by-hand\"; rail = 2; holder = 3; value = 12000; after_ms = 7; } );"),
    /* a changeover: its position at an end of 32 bits; 1,310,720 mm; a statusword; an edge */
    SEED("\x04\x00\x80\x0B\x01\x7F\xFF\xFF\xFF\x20\x0B\x02\x80\x00\x00\x00"),
    SEED("\x04\x00\x40\x0B\x07\x4E\x20\x00\x00\xFF\x08\x03\x00\x00\x00\x08"),
    SEED("\x04\x00\xC0\x0E\x07\x80\x00\x00\x00\x10\x0F\x07\x7F\xFF\xFF\xFF\x01\x10\x07\x00\x00\x00\x01"),
    SEED("\x04\x01\x20\x0B\x01\x7F\xFF\xFF\xFF\x20\x0B\x02\x80\x00\x00\x00"),
};
#define N_SEEDS (sizeof seeds / sizeof seeds[0])

static void one_run(uint64_t seed, uint32_t run)
{
    uint8_t bytes[300];
    const struct mutate_seed *from = &seeds[mutate_draw(seed, run, 0) % N_SEEDS];
    memcpy(bytes, from->bytes, from->n);
    LLVMFuzzerTestOneInput(bytes, mutate(bytes, from->n, 1, seed, run));
}

int main(int argc, char *argv[])
{
    uint64_t seed;
    uint32_t runs = mutate_runs(argc, argv, &seed);
    for (uint32_t i = 0; i < runs; i++)
        one_run(seed, i);
    printf("fuzz_drive: %u runs, seed %llu: %llu answers whole, %llu refused, %llu scripts good, "
           "%llu cycles of a station, aborted %llu times\n",
           runs, (unsigned long long)seed, (unsigned long long)answered, (unsigned long long)refused,
           (unsigned long long)scripts, (unsigned long long)cycles, (unsigned long long)aborts);
    /* Inputs that never get through would show nothing. */
    return answered > 0 && refused > 0 && scripts > 0 && aborts > 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

#endif
