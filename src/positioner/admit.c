#include "admit.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "owner.h"

static bool read_one(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[],
                     struct admitted *answer)
{
    answer->transfer = line_read(line, port, from, word);
    answer->admission = answer->transfer == TRANSFER_DONE ? ADMIT_LATER : ADMIT_FAILED;
    return answer->transfer == TRANSFER_DONE;
}

/* Without a proven watchdog nothing is asked of a drive, because it might not stop when the link is lost. */
static void prove_watchdog(struct line *line, struct port *port, struct admitted *answer)
{
    uint16_t value = 0;
    struct kr_drive_run run = {(uint16_t)port->drive.map.address[KR_OBJECT_WATCHDOG], 1};
    if (!read_one(line, port, run, &value, answer))
        return;
    port->proven = value >= 1 && value <= port->drive.watchdog_most;
    if (port->proven)
        return;
    answer->admission = ADMIT_REFUSED;
    answer->refusal = (struct kr_drive_refusal){.why = KR_REFUSED_PARAMETER,
                                                .address = run.address,
                                                .seen = value,
                                                .expected = port->drive.watchdog_most,
                                                .name = "communication watchdog"};
    snprintf(answer->reason, sizeof answer->reason,
             "not used: its communication watchdog is set to %u; 1 to %" PRId32 " is needed", (unsigned)value,
             port->drive.watchdog_most);
}

static void read_method(struct line *line, struct port *port, struct admitted *answer)
{
    struct kr_drive_run run = {(uint16_t)port->drive.map.address[KR_OBJECT_HOMING_METHOD], 1};
    port->method_read = read_one(line, port, run, &port->homing_method, answer);
}

static void refuse_parameter(const struct port *port, const struct kr_expected *e, uint32_t seen,
                             struct admitted *answer)
{
    struct kr_drive_refusal *refusal = &answer->refusal;
    *refusal = (struct kr_drive_refusal){.why = KR_REFUSED_PARAMETER,
                                         .item = (uint16_t)(port->n_checked + 1),
                                         .address = e->address,
                                         .seen = kr_expected_shown(e, seen),
                                         .expected = kr_expected_shown(e, e->value)};
    memcpy(refusal->name, e->name, sizeof refusal->name);
    answer->admission = ADMIT_REFUSED;
    snprintf(answer->reason, sizeof answer->reason,
             "not used: its parameter \"%s\" (register %u) shows %" PRId32 "; %" PRId32 " is expected (mask %" PRIX32
             "h)",
             e->name, (unsigned)e->address, refusal->seen, refusal->expected, e->mask);
}

/* Reads and checks the next parameter of the list. */
static void check_parameter(struct line *line, struct port *port, struct admitted *answer)
{
    const struct kr_expected *e = &port->drive.expected[port->n_checked];
    uint16_t word[2];
    if (!read_one(line, port, (struct kr_drive_run){e->address, e->words}, word, answer))
        return;
    uint32_t seen = kr_expected_seen(e, port->drive.map.low_word_first, word);
    if (seen == e->value)
        port->n_checked++;
    else
        refuse_parameter(port, e, seen, answer);
}

void admit_drive(struct line *line, struct port *port, struct admitted *answer)
{
    const struct kr_drive *drive = &port->drive;
    *answer = (struct admitted){.admission = ADMIT_YES};
    if (drive->watchdog == KR_WATCHDOG_READ && !port->proven)
        prove_watchdog(line, port, answer);
    else if (drive->map.address[KR_OBJECT_HOMING_METHOD] != KR_NO_REGISTER && !port->method_read)
        read_method(line, port, answer);
    else if (port->n_checked < drive->n_expected)
        check_parameter(line, port, answer);
    else
        owner_step(line, port, answer);
}

void admit_forget(struct port *port)
{
    port->proven = port->method_read = false;
    port->n_checked = 0;
    owner_forget(port);
}
