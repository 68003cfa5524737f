/* The second gateway and the simulator of the rehearsal: where they are, and the proof that both are the simulator and
 * no machine, before anything is broken. */
#include <stdio.h>
#include <string.h>

#include "commission_rehearsal.h"

#define SHOWN_MS 2000 /* longest time until the gateway shows what the control socket was told */
#define ROUNDS   8

/* ---- that it is the simulator ---------------------------------------------------------------------------------- */

#define AFTER_JOG_ENABLE 14 /* a carriage strikes what comes then */

/* An input that every rail has and that no carriage moves: KR_DI_LINE_STOPPED to KR_DI_JOG_ENABLE. -1: there is
 * none. */
static int common_input(const struct commission *c)
{
    for (unsigned bit = AFTER_JOG_ENABLE; bit-- > 8;) {
        bool wired = kr_input_signal(bit) != NULL;
        for (uint16_t r = 0; r < c->station->station.geometry.n_rails; r++)
            wired = wired && (commission_wired_inputs(c, r) >> bit & 1u) != 0;
        if (wired)
            return (int)bit;
    }
    return -1;
}

static bool all_show(const struct commission *c, unsigned bit, bool on)
{
    for (uint16_t r = 0; r < c->station->station.geometry.n_rails; r++)
        if ((commission_inputs(c, r) >> bit & 1u) != on)
            return false;
    return true;
}

static bool follows(struct rehearsal *r, unsigned bit, bool on, bool *shown)
{
    char answer[256];
    *shown = false;
    if (!commission_door_say(&r->door, answer, sizeof answer, "inputs %s=%d", kr_input_signal(bit), on))
        return true;
    for (int64_t until = commission_now_ms() + SHOWN_MS; !*shown && commission_now_ms() < until;) {
        if (!commission_look_again(&r->c))
            return false;
        *shown = all_show(&r->c, bit, on);
    }
    return true;
}

bool commission_rehearsal_is_simulated(struct rehearsal *r, char why[200], bool *simulated)
{
    int bit = common_input(&r->c);
    *simulated = false;
    snprintf(why, 200,
             "No input from line_stopped to jog_enable is wired at every rail, so that nothing shows the simulator.");
    if (bit < 0 || !commission_look(&r->c))
        return !r->c.failed;
    bool shown = true, first = all_show(&r->c, (unsigned)bit, true);
    for (int i = 0; i < ROUNDS && shown; i++)
        if (!follows(r, (unsigned)bit, (i % 2 == 0) != first, &shown))
            return false;
    *simulated = shown;
    snprintf(why, 200,
             "%s was switched at the simulator's control socket, and that gateway does not show it at every rail: its "
             "drives are not that simulator's.",
             kr_input_signal((unsigned)bit));
    return true;
}

/* Tells whether this is another gateway. A copy of the station file has other addresses of drives, and so another
 * digest. */
static bool is_other_gateway(const struct commission *machine, const struct commission *r, char why[200])
{
    char name[64];
    const struct kr_image *image = &r->client.image;
    kr_get_text(image, KR_REG_STATION_NAME, name, sizeof name);
    if (strcmp(name, machine->station->station.name) != 0) {
        snprintf(why, 200, "That gateway runs station %s, and not a copy of %s.", name, machine->station->station.name);
        return false;
    }
    if (kr_get_u16(image, KR_REG_RAIL_COUNT, 0, 0) != machine->station->station.geometry.n_rails) {
        snprintf(why, 200, "That gateway's station has another number of rails.");
        return false;
    }
    if ((uint32_t)kr_get_i32(image, KR_REG_FILE_DIGEST, 0, 0) == machine->config.digest) {
        snprintf(
            why, 200,
            "That gateway runs the machine's own station file (digest %08X), with the machine's drives: it is refused.",
            (unsigned)machine->config.digest);
        return false;
    }
    return true;
}

/* ---- opening it ------------------------------------------------------------------------------------------------ */

static bool read_address(struct rehearsal *r, const char *text)
{
    const char *colon = strrchr(text, ':');
    if (colon == NULL || colon == text || colon[1] == '\0' || strlen(colon + 1) >= sizeof r->port ||
        strspn(colon + 1, "0123456789") != strlen(colon + 1) || strlen(text) >= sizeof r->host)
        return false;
    snprintf(r->host, sizeof r->host, "%.*s", (int)(colon - text), text);
    snprintf(r->port, sizeof r->port, "%s", colon + 1);
    return true;
}

bool commission_rehearsal_ask(struct commission *c, struct rehearsal *r)
{
    char answer[COMMISSION_LINE_MAX];
    commission_say("The rehearsal needs kniferail-sim, started with --control SOCKET on a copy of the station file "
                   "that has other drive addresses and another book, and a second gateway that runs that copy. It is "
                   "never the machine: the program looks whether it is the simulator before it breaks anything.");
    const char *address = c->rehearsal, *socket = c->simulator;
    while (address == NULL || !read_address(r, address)) {
        if (!commission_ask_text(c, answer, "Where does the second gateway listen? Type HOST:PORT."))
            return false;
        address = answer;
    }
    if (socket == NULL &&
        !commission_ask_text(c, r->socket, "What is the name of the simulator's control socket? Type the name."))
        return false;
    if (socket != NULL)
        snprintf(r->socket, sizeof r->socket, "%s", socket);
    return true;
}

bool commission_rehearsal_open(struct commission *machine, struct rehearsal *r, char why[200])
{
    struct kr_client_address address = {r->host, r->port, machine->address.unit_id};
    r->c = *machine;
    memset(&r->c.client, 0, sizeof r->c.client);
    r->c.started = false;
    r->c.also = machine;
    if (!commission_door_open(&r->door, r->socket)) {
        snprintf(why, 200, "The simulator cannot be reached at %.150s.", r->door.why);
        return false;
    }
    if (!kr_client_open(&r->c.client, &address)) {
        snprintf(why, 200, "%s", r->c.client.error);
        return false;
    }
    return is_other_gateway(machine, &r->c, why);
}

/* ---- closing it ------------------------------------------------------------------------------------------------ */

void commission_rehearsal_close(struct commission *c, struct rehearsal *r)
{
    commission_rest(&r->c);
    memcpy(c->typed, r->c.typed, sizeof c->typed);
    c->n_typed = r->c.n_typed;
    c->left = r->c.left;
    c->failed = r->c.failed;
    kr_client_close(&r->c.client);
    commission_door_close(&r->door);
}
