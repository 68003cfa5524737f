#include "wire_rig.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define EXAMPLE "config/wired-shear.cfg"

const char *wire_program;

/* ---- the station file ---------------------------------------------------------------------------------- */

static void replace(char *text, size_t size, const char *from, const char *to)
{
    char *at = strstr(text, from);
    ck_assert_msg(at != NULL, "the example has no '%s'", from);
    size_t rest = strlen(at + strlen(from)) + 1;
    ck_assert_uint_lt((size_t)(at - text) + strlen(to) + rest, size);
    memmove(at + strlen(to), at + strlen(from), rest);
    memcpy(at, to, strlen(to));
}

static void put_port(const struct wire *w, char *text, size_t size, const char *from, uint16_t rail)
{
    char to[32];
    snprintf(to, sizeof to, "port = %u;", w->port[rail]);
    if (w->port[rail] != 0)
        replace(text, size, from, to);
}

/* With the ports that the simulator had, once it has run. */
static void write_config(struct wire *w)
{
    static char text[20000];
    FILE *f = fopen(EXAMPLE, "r");
    ck_assert_ptr_nonnull(f);
    size_t n = fread(text, 1, sizeof text - 2000, f);
    fclose(f);
    text[n] = 0;
    for (int i = 0; w->changes && w->changes[i]; i += 2)
        replace(text, sizeof text, w->changes[i], w->changes[i + 1]);
    while (strstr(text, "A_LINE"))
        replace(text, sizeof text, "A_LINE", w->device);
    put_port(w, text, sizeof text, "port = 15021;", 0);
    put_port(w, text, sizeof text, "port = 15022;", 1);
    f = fopen(w->config_path, "w");
    ck_assert_ptr_nonnull(f);
    ck_assert_uint_eq(fwrite(text, 1, strlen(text), f), strlen(text));
    fclose(f);
}

static void read_config(struct wire *w)
{
    static struct kr_config config;
    static struct kr_config_errors errors;
    ck_assert_msg(kr_config_read(w->config_path, &config, &errors), "%s", errors.message[0]);
    w->station = config.station[0];
}

/* ---- the simulator ------------------------------------------------------------------------------------- */

static void run_simulator(const struct wire *w, int in, int out)
{
    dup2(in, 0);
    dup2(out, 1);
    const char *listen = w->port[0] == 0 ? "--listen" : NULL;
    execl(wire_program, wire_program, "--config", w->config_path, listen, "127.0.0.1:0", (char *)NULL);
    _exit(127);
}

static void read_ports(struct wire *w)
{
    char line[200];
    for (uint16_t r = 0; r < 2; r++) {
        ck_assert_msg(fgets(line, sizeof line, w->from_simulator) != NULL, "the simulator did not start");
        const char *port = strstr(line, "port ");
        if (port)
            w->port[r] = (uint16_t)atoi(port + 5);
    }
}

void wire_start_simulator(struct wire *w)
{
    int to[2], from[2];
    ck_assert_int_eq(pipe(to), 0);
    ck_assert_int_eq(pipe(from), 0);
    w->simulator = fork();
    ck_assert_int_ge(w->simulator, 0);
    if (w->simulator == 0) {
        close(to[1]);
        close(from[0]);
        run_simulator(w, to[0], from[1]);
    }
    close(to[0]);
    close(from[1]);
    w->to_simulator = fdopen(to[1], "w");
    w->from_simulator = fdopen(from[0], "r");
    read_ports(w);
}

void wire_end_simulator(struct wire *w)
{
    kill(w->simulator, SIGTERM);
    waitpid(w->simulator, NULL, 0);
    fclose(w->to_simulator);
    fclose(w->from_simulator);
    w->simulator = 0;
}

void wire_command(struct wire *w, const char *line)
{
    char answer[200];
    fprintf(w->to_simulator, "%s\n", line);
    fflush(w->to_simulator);
    ck_assert_ptr_nonnull(fgets(answer, sizeof answer, w->from_simulator));
    ck_assert_msg(strcmp(answer, "broken\n") == 0 || strcmp(answer, "mended\n") == 0, "%s: %s", line, answer);
}

/* ---- the positioner ------------------------------------------------------------------------------------ */

static void on_news(void *arg, uint16_t rail, const char *line)
{
    struct wire *w = arg;
    if (w->n_news < WIRE_NEWS_MAX)
        snprintf(w->news[w->n_news++], sizeof w->news[0], "%u %s", rail, line);
}

bool wire_told(const struct wire *w, const char *part)
{
    for (int i = 0; i < w->n_news; i++)
        if (strstr(w->news[i], part))
            return true;
    return false;
}

void wire_begin(struct wire *w, const char *const changes[])
{
    memset(w, 0, sizeof *w);
    snprintf(w->folder, sizeof w->folder, "/tmp/kniferail-wire-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(w->folder));
    snprintf(w->config_path, sizeof w->config_path, "%s/station.cfg", w->folder);
    snprintf(w->device, sizeof w->device, "%s/line", w->folder);
    w->changes = changes;
    write_config(w);
    read_config(w);
    wire_start_simulator(w);
    write_config(w);
}

void wire_open(struct wire *w)
{
    char error[200];
    for (int r = 0; r < 2; r++) {
        if (!w->station.drive[r].link.serial)
            w->station.drive[r].link.port = w->port[r];
        w->out[r] = (struct kr_axis_out){.controlword = 0,
                                         .mode = KR_MODE_PROFILE_POSITION,
                                         .speed_um_per_s = 500000,
                                         .accel_um_per_s2 = 2000000,
                                         .decel_um_per_s2 = 2000000};
    }
    struct kr_positioner_note note = {on_news, w};
    w->open = kr_positioner_modbus(2, w->station.drive, note, &w->positioner, error, sizeof error);
    ck_assert_msg(w->open, "%s", error);
}

void wire_end(struct wire *w)
{
    if (w->open)
        w->positioner.close(w->positioner.self);
    if (w->simulator > 0)
        wire_end_simulator(w);
    unlink(w->config_path);
    rmdir(w->folder);
}

/* ---- the cycle ----------------------------------------------------------------------------------------- */

static int64_t now_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static void sleep_until(int64_t when_us)
{
    struct timespec when = {when_us / 1000000, when_us % 1000000 * 1000};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &when, NULL) == EINTR)
        ;
}

void wire_step(struct wire *w)
{
    int64_t now = now_us();
    w->next_us += WIRE_PERIOD_MS * 1000;
    if (w->next_us < now)
        w->next_us = now;
    sleep_until(w->next_us);
    for (int r = 0; r < 2; r++)
        w->out[r].serial++;
    w->positioner.exchange(w->positioner.self, w->out, WIRE_PERIOD_MS * 1000, w->in);
}

void wire_run_ms(struct wire *w, int ms)
{
    for (int t = 0; t < ms; t += WIRE_PERIOD_MS)
        wire_step(w);
}

void wire_pause_ms(struct wire *w, int ms)
{
    (void)w;
    sleep_until(now_us() + (int64_t)ms * 1000);
}

bool wire_wait_link(struct wire *w, uint16_t rail, bool link, int limit_ms)
{
    for (int t = 0; t < limit_ms; t += WIRE_PERIOD_MS) {
        wire_step(w);
        if (w->in[rail].link == link)
            return true;
    }
    return false;
}

bool wire_wait_state(struct wire *w, uint16_t rail, enum kr_drive_state state, int limit_ms)
{
    for (int t = 0; t < limit_ms; t += WIRE_PERIOD_MS) {
        wire_step(w);
        if (w->in[rail].link && kr_drive_state_of(w->in[rail].statusword) == state)
            return true;
    }
    return false;
}

bool wire_wait_inputs(struct wire *w, uint16_t rail, uint16_t inputs, int limit_ms)
{
    for (int t = 0; t < limit_ms; t += WIRE_PERIOD_MS) {
        wire_step(w);
        if ((w->in[rail].inputs & inputs) == inputs)
            return true;
    }
    return false;
}

static bool wait_status(struct wire *w, uint16_t rail, uint16_t bits, uint16_t value, int limit_ms)
{
    for (int t = 0; t < limit_ms; t += WIRE_PERIOD_MS) {
        wire_step(w);
        if (w->in[rail].link && (w->in[rail].statusword & bits) == value)
            return true;
    }
    return false;
}

bool wire_enable(struct wire *w, uint16_t rail)
{
    static const struct {
        uint16_t controlword;
        enum kr_drive_state state;
    } step[] = {{0x06, KR_DRIVE_READY_TO_SWITCH_ON}, {0x07, KR_DRIVE_SWITCHED_ON}, {0x0F, KR_DRIVE_OPERATION_ENABLED}};
    for (int i = 0; i < 3; i++) {
        w->out[rail].controlword = step[i].controlword;
        if (!wire_wait_state(w, rail, step[i].state, 2000))
            return false;
    }
    return wait_status(w, rail, 0, 0, 100) && w->in[rail].mode == KR_MODE_PROFILE_POSITION;
}

bool wire_move(struct wire *w, uint16_t rail, int32_t target_um)
{
    w->out[rail].target_um = target_um;
    w->out[rail].controlword |= KR_CW_NEW_SETPOINT;
    if (!wait_status(w, rail, KR_SW_SETPOINT_ACK, KR_SW_SETPOINT_ACK, 1000))
        return false;
    w->out[rail].controlword &= (uint16_t)~KR_CW_NEW_SETPOINT;
    return wait_status(w, rail, KR_SW_SETPOINT_ACK, 0, 1000) &&
           wait_status(w, rail, KR_SW_TARGET_REACHED, KR_SW_TARGET_REACHED, 10000);
}
