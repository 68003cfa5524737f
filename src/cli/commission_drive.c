/* The drive and its parameters: those that the gateway has read back, and those that a person reads at the drive. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "commission.h"

#define CONNECT_MS 15000 /* time for a drive to boot and for the gateway to try again */

static bool see(struct commission *c, uint16_t rail, struct kr_drive_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    if (!commission_look_again(c))
        return false;
    if (!kr_client_block(&c->client, KR_BLOCK_DRIVES)) {
        fprintf(stderr, "kniferail commission: %s\n", c->client.error);
        c->failed = true;
        return false;
    }
    *seen = (struct kr_drive_seen){.link = kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) != 0,
                                   .refused = kr_get_u16(image, KR_REG_DRIVE_REFUSED, 0, rail),
                                   .address = kr_get_u16(image, KR_REG_DRIVE_PARAMETER, 0, rail),
                                   .seen = kr_get_i32(image, KR_REG_DRIVE_PARAMETER_SEEN, 0, rail),
                                   .expected = kr_get_i32(image, KR_REG_DRIVE_PARAMETER_EXPECTED, 0, rail)};
    kr_get_text(image, (enum kr_reg)(KR_REG_DRIVE_PARAMETER_NAME_1 + rail), seen->parameter, sizeof seen->parameter);
    return true;
}

/* Waits for a drive. One without a link may be booting, so that only a refusal, or a long silence, is an answer. */
static bool wait_for_drive(struct commission *c, uint16_t rail, struct kr_drive_seen *seen)
{
    for (int64_t until = commission_now_ms() + CONNECT_MS; commission_now_ms() < until;) {
        if (!see(c, rail, seen))
            return false;
        if (seen->link || seen->refused != KR_REFUSED_NOT)
            return true;
    }
    return true;
}

/* Asks for a whole number, which has no default. */
static bool ask_whole(struct commission *c, int32_t least, int32_t most, int32_t *number, const char *question)
{
    double value;
    do {
        value = NAN;
        if (!commission_ask_number(c, &value, least, most, "%s", question))
            return false;
    } while (value != floor(value));
    *number = (int32_t)value;
    return true;
}

/* Asks for what no register and no parameter of the list shows. */
static bool ask_own(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_drive *drive = &c->station->drive[rail];
    const struct kr_station_config *station = &c->station->station;
    struct kr_drive_asked asked = kr_drive_asked(drive);
    struct kr_drive_typed typed = {
        .setup_um_per_s =
            kr_setup_speed(&station->carriage[rail], station->geometry.rail[rail].empty, true).v_um_per_s};
    char answer[COMMISSION_LINE_MAX];
    if (!ask_whole(c, 0, 3600000, &typed.watchdog_ms,
                   "To how many milliseconds is the drive's communication watchdog set? Read it at the drive; 0 if it "
                   "is off."))
        return false;
    if (asked.homing_method &&
        !ask_whole(c, -128, 127, &typed.homing_method,
                   "No register shows the homing method (6098h): it has to look for a mark; 35 and 37 do not. Read its "
                   "number at the drive."))
        return false;
    if (asked.homing_speed &&
        !commission_ask_um(
            c, &typed.homing_um_per_s,
            "No register shows the homing speed (6099h). Read it at the drive: how far does the carriage "
            "go in a second at it?"))
        return false;
    kr_judge_drive_typed(drive, &typed, verdict);
    if (!asked.torque_limit)
        return true;
    if (!commission_ask_text(c, answer,
                             "No register shows the torque limit (6072h): it limits the force of the carriage. Read it "
                             "at the drive, and type it in."))
        return false;
    kr_figure_add(verdict, "torque limit (6072h)", "%s, read at the drive by a person", answer);
    return true;
}

static void note_datum(const struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    bool always = c->station->drive[rail].map.referenced_bit == KR_NO_BIT;
    kr_figure_add(verdict, "datum", "%s",
                  always ? "the drive always counts as having it (referenced_bit is -1)" : "by the drive's statusword");
}

bool commission_walk_DRIVE(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct kr_drive_seen seen = {0};
    if (!wait_for_drive(c, rail, &seen))
        return false;
    if (seen.link) {
        char alarm[512];
        seen.implausible = commission_alarm(c, alarm, sizeof alarm) == KR_ALARM_POSITION_IMPLAUSIBLE;
    }
    kr_judge_drive(&c->station->drive[rail], &seen, verdict);
    if (!kr_step_passes(verdict))
        return true;
    note_datum(c, rail, verdict);
    return ask_own(c, rail, verdict);
}
