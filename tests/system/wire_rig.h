/* A simulated machine in a process of its own, drives over Modbus between, and the positioner under test. */
#ifndef WIRE_RIG_H
#define WIRE_RIG_H

#include <check.h>
#include <stdio.h>
#include <sys/types.h>

#include "kniferail/config.h"
#include "kniferail/positioner.h"

#define WIRE_PERIOD_MS 10
#define WIRE_NEWS_MAX  64

struct wire {
    char folder[64], config_path[96];
    char device[80]; /* stands in the file for A_LINE: a serial line's device */
    const char *const *changes;
    pid_t simulator;
    FILE *to_simulator, *from_simulator;
    uint16_t port[KR_RAILS_MAX];
    struct kr_config_station station;
    struct kr_positioner positioner;
    bool open;
    struct kr_axis_out out[KR_RAILS_MAX];
    struct kr_axis_in in[KR_RAILS_MAX];
    int n_news;
    char news[WIRE_NEWS_MAX][256]; /* what the positioner told, "1 drive at ..." */
    int64_t next_us;               /* of the cycle */
};

/* Where the program stands: from the test's command line. */
extern const char *wire_program;

/* The example station of two rails, with `changes`, pairs of text to find in its file and text to put there, ended by
 * NULL; the simulator runs and its ports are known. Then wire_open(). */
void wire_begin(struct wire *w, const char *const changes[]);
void wire_open(struct wire *w); /* makes the positioner, on the simulator's ports */
void wire_end(struct wire *w);

void wire_start_simulator(struct wire *w); /* on the ports it had before, or any */
void wire_end_simulator(struct wire *w);
void wire_command(struct wire *w, const char *line); /* and waits for its answer, which must be "broken" or "mended" */

void wire_step(struct wire *w); /* one exchange, a period after the last */
void wire_run_ms(struct wire *w, int ms);
void wire_pause_ms(struct wire *w, int ms);             /* no exchange */
bool wire_told(const struct wire *w, const char *part); /* a line of news has that in it */

/* Each waits for at most limit_ms, and says whether it came to be. */
bool wire_wait_link(struct wire *w, uint16_t rail, bool link, int limit_ms);
bool wire_wait_state(struct wire *w, uint16_t rail, enum kr_drive_state state, int limit_ms);
bool wire_wait_inputs(struct wire *w, uint16_t rail, uint16_t inputs, int limit_ms);
bool wire_enable(struct wire *w, uint16_t rail);
bool wire_move(struct wire *w, uint16_t rail, int32_t target_um);

#endif
