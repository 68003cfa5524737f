#include "owner.h"

#include <stdio.h>
#include <sys/random.h>

#define BEAT_MS 250 /* the owner's register is read, and written again, this often */

static int64_t in_ms(int64_t ms)
{
    return line_now_us() + 1000 * ms;
}

/* An owner that works is never silent for longer than this: the time it waits for an answer, and two beats. */
static int32_t claim_ms(const struct port *port)
{
    return port->drive.link.lost_ms + 2 * BEAT_MS;
}

static bool read_one(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[],
                     struct admitted *answer)
{
    answer->transfer = line_read(line, port, from, word);
    answer->admission = answer->transfer == TRANSFER_DONE ? ADMIT_LATER : ADMIT_FAILED;
    return answer->transfer == TRANSFER_DONE;
}

/* number: the other gateway's number, or 0 if it does not show one. */
static void refuse(const struct port *port, uint16_t number, struct admitted *answer)
{
    answer->admission = ADMIT_REFUSED;
    answer->refusal =
        (struct kr_drive_refusal){.why = KR_REFUSED_OTHER_GATEWAY, .seen = number, .expected = port->owner.number};
    if (number != 0)
        snprintf(answer->reason, sizeof answer->reason,
                 "not used: another gateway works it, number %u; this one is number %u", (unsigned)number,
                 (unsigned)port->owner.number);
    else
        snprintf(answer->reason, sizeof answer->reason,
                 "not used: another gateway works it; its registers are not as this one wrote them");
}

/* ---- an owner register ----------------------------------------------------------------------------------------- */

static struct kr_drive_run place(const struct port *port)
{
    return (struct kr_drive_run){(uint16_t)port->drive.map.address[KR_OBJECT_OWNER], 1};
}

static void write_number(struct line *line, struct port *port, struct admitted *answer)
{
    struct owner *o = &port->owner;
    o->said = (uint16_t)(o->number << 8 | (uint16_t)((o->said + 1) & 0xFF));
    o->writes = false;
    answer->transfer = line_write(line, port, place(port), &o->said);
    if (answer->transfer != TRANSFER_DONE)
        answer->admission = ADMIT_FAILED;
}

/* Begins to watch a number: its age counts from the time when it was read first. */
static void watch(struct owner *o, uint16_t seen)
{
    o->state = OWNER_WATCHED;
    o->seen = seen;
    o->since_us = line_now_us();
}

static void claim(struct owner *o)
{
    o->state = OWNER_CLAIMED;
    o->writes = true;
}

static void does_not_keep(const struct port *port, struct admitted *answer)
{
    answer->admission = ADMIT_REFUSED;
    snprintf(answer->reason, sizeof answer->reason,
             "not used: registers.owner (register %d) does not keep what is written to it",
             (int)port->drive.map.address[KR_OBJECT_OWNER]);
}

static void judge(struct port *port, uint16_t seen, struct admitted *answer)
{
    struct owner *o = &port->owner;
    bool is_own = o->said != 0 && seen == o->said, is_free = seen == 0;
    switch (o->state) {
    case OWNER_UNSEEN:
        watch(o, seen);
        if (is_free || is_own)
            claim(o);
        return;
    case OWNER_WATCHED:
        if (is_free || (seen == o->seen && line_now_us() - o->since_us >= 1000LL * claim_ms(port))) {
            claim(o);
        } else if (seen != o->seen) {
            watch(o, seen);
            refuse(port, seen >> 8, answer);
        }
        return;
    case OWNER_CLAIMED:
    case OWNER_OURS:
        if (is_free && o->state == OWNER_CLAIMED) {
            does_not_keep(port, answer);
        } else if (is_own || is_free) { /* a drive that was started again has forgotten the number */
            o->state = OWNER_OURS;
            o->writes = true;
            answer->admission = ADMIT_YES;
        } else {
            watch(o, seen);
            refuse(port, seen >> 8, answer);
        }
        return;
    }
}

/* A gateway that stood still between its look and its write must look again: another one may have taken the drive
 * meanwhile, and the write would take it back. Within lost_ms of the look no other one has waited long enough. */
static void look_again_when_late(struct port *port)
{
    struct owner *o = &port->owner;
    if (!o->writes || line_now_us() < o->look_us + 1000LL * port->drive.link.lost_ms)
        return;
    o->writes = false;
    if (o->state == OWNER_CLAIMED)
        o->state = OWNER_UNSEEN;
}

static void by_register(struct line *line, struct port *port, struct admitted *answer)
{
    struct owner *o = &port->owner;
    uint16_t seen;
    look_again_when_late(port);
    answer->admission = o->state == OWNER_OURS ? ADMIT_YES : ADMIT_LATER;
    if (o->writes) {
        write_number(line, port, answer);
    } else if (line_now_us() >= o->look_us && read_one(line, port, place(port), &seen, answer)) {
        o->look_us = in_ms(BEAT_MS);
        judge(port, seen, answer);
    }
}

/* ---- by what is read back ------------------------------------------------------------------------------------- */

static bool read_object(struct line *line, struct port *port, enum kr_object object, uint32_t *raw,
                        struct admitted *answer)
{
    uint16_t word[2] = {0, 0};
    uint8_t n = kr_object_info(object)->registers;
    struct kr_drive_run run = {(uint16_t)port->drive.map.address[object], n};
    const struct kr_expected whole = {.words = n, .mask = n == 1 ? UINT16_MAX : UINT32_MAX};
    bool read = read_one(line, port, run, word, answer);
    *raw = kr_expected_seen(&whole, port->drive.map.low_word_first, word);
    return read;
}

/* The drive may still be running because a gateway was killed. So a running drive is left alone for as long as its
 * watchdog needs to stop it. If it still runs after that, another gateway keeps it running. */
static void meet(struct line *line, struct port *port, struct admitted *answer)
{
    struct owner *o = &port->owner;
    uint32_t raw;
    if (!read_object(line, port, KR_OBJECT_STATUSWORD, &raw, answer))
        return;
    bool runs = kr_drive_state_of((uint16_t)raw) == KR_DRIVE_OPERATION_ENABLED;
    if (!runs) {
        o->state = OWNER_OURS;
    } else if (o->state == OWNER_UNSEEN) {
        watch(o, 0);
        o->look_us = in_ms(claim_ms(port));
    } else {
        o->look_us = in_ms(claim_ms(port));
        refuse(port, 0, answer);
    }
}

/* A difference counts only when it is read twice in succession, because the drive may not have taken a value yet. */
static void compare(struct line *line, struct port *port, struct admitted *answer)
{
    struct owner *o = &port->owner;
    enum kr_object object = o->looks_at_target ? KR_OBJECT_TARGET : KR_OBJECT_CONTROLWORD;
    struct kr_drive_objects said = {{0}};
    uint32_t raw;
    answer->admission = ADMIT_YES;
    if (port->said.serial == 0 || !read_object(line, port, object, &raw, answer))
        return;
    answer->admission = ADMIT_YES;
    kr_drivemap_write_out(&port->drive.map, &port->said, &said);
    o->look_us = in_ms(BEAT_MS);
    o->differs = raw == said.raw[object] ? 0 : o->differs + 1;
    if (o->differs == 0)
        o->looks_at_target = !o->looks_at_target;
    if (o->differs < 2)
        return;
    owner_forget(port);
    o->state = OWNER_WATCHED;
    o->look_us = in_ms(RETRY_MAX_MS);
    refuse(port, 0, answer);
}

static void by_reading_back(struct line *line, struct port *port, struct admitted *answer)
{
    struct owner *o = &port->owner;
    answer->admission = o->state == OWNER_OURS ? ADMIT_YES : ADMIT_LATER;
    if (line_now_us() < o->look_us)
        return;
    if (o->state == OWNER_OURS)
        compare(line, port, answer);
    else
        meet(line, port, answer);
}

/* ---- both ------------------------------------------------------------------------------------------------------ */

void owner_step(struct line *line, struct port *port, struct admitted *answer)
{
    if (port->drive.map.address[KR_OBJECT_OWNER] != KR_NO_REGISTER)
        by_register(line, port, answer);
    else if (port->drive.read_back)
        by_reading_back(line, port, answer);
}

void owner_forget(struct port *port)
{
    struct owner *o = &port->owner;
    o->state = OWNER_UNSEEN;
    o->writes = false;
    o->look_us = 0;
    o->differs = 0;
}

void owner_give_up(struct line *line, struct port *port)
{
    const uint16_t nobody = 0;
    if (port->drive.map.address[KR_OBJECT_OWNER] != KR_NO_REGISTER && port->owner.state == OWNER_OURS)
        (void)line_write(line, port, place(port), &nobody);
}

uint16_t owner_number(void)
{
    uint8_t number = 0;
    while (number == 0)
        if (getrandom(&number, sizeof number, 0) != (ssize_t)sizeof number)
            number = (uint8_t)line_now_us(); /* it only has to differ from the numbers of others */
    return number;
}
