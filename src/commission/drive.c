/* Judges whether the drive answers, is used, and shows the parameters that the station file expects. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/commission.h"
#include "said.h"

/* Returns a 32-bit value with its halves exchanged. */
static int32_t exchanged(int32_t value)
{
    uint32_t bits = (uint32_t)value;
    return (int32_t)(bits << 16 | bits >> 16);
}

static const struct kr_expected *parameter_at(const struct kr_drive *drive, uint16_t address)
{
    for (uint16_t i = 0; i < drive->n_expected; i++)
        if (drive->expected[i].address == address)
            return &drive->expected[i];
    return NULL;
}

static void judge_parameter(const struct kr_drive *drive, const struct kr_drive_seen *seen,
                            struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    const struct kr_expected *e = parameter_at(drive, seen->address);
    if (e != NULL && e->words == 2 && exchanged(seen->seen) == seen->expected && seen->seen != seen->expected) {
        snprintf(change, sizeof change, "\"%s\"", drive->map.low_word_first ? "high_word_first" : "low_word_first");
        kr_finding_add(verdict, "drive.word_order", change,
                       "Parameter \"%s\" (register %u) shows %" PRId32 ", which is the expected %" PRId32
                       " with its two halves exchanged.",
                       seen->parameter, seen->address, seen->seen, seen->expected);
        return;
    }
    snprintf(change, sizeof change,
             "set register %u of the drive to %" PRId32 ". If the drive is right, correct drive.expected",
             seen->address, seen->expected);
    kr_finding_add(verdict, "", change,
                   "Parameter \"%s\" (register %u) shows %" PRId32 ", and %" PRId32
                   " is expected: another drive, factory settings, or settings that were changed.",
                   seen->parameter, seen->address, seen->seen, seen->expected);
}

static void judge_watchdog(const struct kr_drive_seen *seen, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change,
             "set the drive's communication watchdog (register %u) to 1 to %" PRId32 ", in the register's own unit",
             seen->address, seen->expected);
    kr_finding_add(verdict, "", change,
                   seen->seen == 0 ? "The drive's communication watchdog is off (it shows %" PRId32
                                     "): without it nothing stops the carriage when the link is lost."
                                   : "The drive's communication watchdog shows %" PRId32
                                     ", which is longer than the station file allows.",
                   seen->seen);
}

static void judge_refusal(const struct kr_drive *drive, const struct kr_drive_seen *seen,
                          struct kr_step_verdict *verdict)
{
    if (seen->refused == KR_REFUSED_OTHER_GATEWAY)
        kr_finding_add(verdict, "", "find the other gateway by the numbers in the logs, and end it",
                       "Another gateway works this drive.");
    else if (seen->refused != KR_REFUSED_PARAMETER)
        kr_finding_add(verdict, drive->link.serial ? "drive.device" : "drive.address",
                       "the drive's own; or its power, cable and unit identifier (drive.unit_id)",
                       "The drive does not answer.");
    else if (drive->watchdog == KR_WATCHDOG_READ && seen->address == drive->map.address[KR_OBJECT_WATCHDOG])
        judge_watchdog(seen, verdict);
    else
        judge_parameter(drive, seen, verdict);
}

static void list_parameters(const struct kr_drive *drive, struct kr_step_verdict *verdict)
{
    for (uint16_t i = 0; i < drive->n_expected; i++) {
        const struct kr_expected *e = &drive->expected[i];
        char mask[32] = "";
        uint32_t whole = e->words == 2 ? UINT32_MAX : UINT16_MAX;
        if ((e->mask & whole) != whole)
            snprintf(mask, sizeof mask, ", in the bits %" PRIX32 " hex", e->mask);
        kr_figure_add(verdict, e->name, "register %u was read and equals %" PRId32 "%s", e->address,
                      kr_expected_shown(e, e->value), mask);
    }
    if (drive->watchdog == KR_WATCHDOG_READ)
        kr_figure_add(verdict, "communication watchdog",
                      "register %" PRId32 " was read and is a value from 1 to %" PRId32,
                      drive->map.address[KR_OBJECT_WATCHDOG], drive->watchdog_most);
    else
        kr_figure_add(verdict, "communication watchdog", "not read: it has to be proven by cutting the link");
}

void kr_judge_drive(const struct kr_drive *drive, const struct kr_drive_seen *seen, struct kr_step_verdict *verdict)
{
    if (!seen->link) {
        judge_refusal(drive, seen, verdict);
        return;
    }
    list_parameters(drive, verdict);
    if (drive->n_expected == 0)
        kr_finding_add(verdict, "drive.expected",
                       "the parameters that the drive has to show: position limits, quick stop and disable options, "
                       "following error, target window, torque limit, homing method",
                       "The station file expects no parameters: a drive in factory settings would not be noticed.");
    if (seen->implausible)
        kr_finding_add(verdict, "drive.word_order",
                       "the drive's; else drive.position_units, drive.position_um, or the drive's datum",
                       "The drive says that it has its datum, and its position lies beyond the travel.");
}

/* ---- what a person reads at the drive -------------------------------------------------------------------------- */

/* Tells whether the name of a parameter of the list contains these words, in capitals or not. */
static bool is_expected(const struct kr_drive *drive, const char *words)
{
    for (uint16_t i = 0; i < drive->n_expected; i++) {
        char small[sizeof drive->expected[i].name];
        memcpy(small, drive->expected[i].name, sizeof small);
        for (char *c = small; *c != '\0'; c++)
            if (*c >= 'A' && *c <= 'Z')
                *c += 'a' - 'A';
        if (strstr(small, words) != NULL)
            return true;
    }
    return false;
}

static bool is_asked(const struct kr_drive *drive, enum kr_object object, const char *name)
{
    return drive->map.address[object] == KR_NO_REGISTER && !is_expected(drive, name);
}

struct kr_drive_asked kr_drive_asked(const struct kr_drive *drive)
{
    return (struct kr_drive_asked){.homing_method = is_asked(drive, KR_OBJECT_HOMING_METHOD, "homing method"),
                                   .homing_speed = is_asked(drive, KR_OBJECT_HOMING_SPEED, "homing speed"),
                                   .torque_limit = is_asked(drive, KR_OBJECT_TORQUE_LIMIT, "torque limit")};
}

static void judge_watchdog_time(const struct kr_drive *drive, int32_t ms, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    int32_t most_ms = drive->watchdog_ms > 0 ? drive->watchdog_ms : drive->link.lost_ms;
    kr_figure_add(verdict, "time of the communication watchdog",
                  "%" PRId32 " ms, read at the drive by a person; at most %" PRId32 " ms", ms, most_ms);
    if (ms >= 1 && ms <= most_ms)
        return;
    snprintf(change, sizeof change, "set the drive's communication watchdog to 1 to %" PRId32 " ms", most_ms);
    kr_finding_add(verdict, "", change,
                   ms <= 0 ? "The drive's communication watchdog is off (%" PRId32
                             " ms): without it nothing stops the carriage when the link is lost."
                           : "The drive's communication watchdog is set to %" PRId32
                             " ms, which is longer than the station file allows.",
                   ms);
}

/* Methods 35 and 37 (IEC 61800-7-201, 6098h) call the present place home and look for nothing. */
static void judge_homing_method(int32_t method, struct kr_step_verdict *verdict)
{
    kr_figure_add(verdict, "homing method (6098h)", "%" PRId32 ", read at the drive by a person; not 35 or 37", method);
    if (method == 35 || method == 37)
        kr_finding_add(verdict, "", "set a homing method that looks for a switch, a stop or an index pulse",
                       "Homing method %" PRId32 " declares the place home where the carriage happens to stand.",
                       method);
}

static void judge_homing_speed(const struct kr_drive_typed *typed, struct kr_step_verdict *verdict)
{
    char change[KR_CHANGE_MAX];
    kr_figure_add(verdict, "homing speed (6099h)", "%s, read at the drive by a person; at most %s",
                  SPEED(verdict, 1, typed->homing_um_per_s / 1000.0),
                  SPEED(verdict, 1, typed->setup_um_per_s / 1000.0));
    if (typed->homing_um_per_s > 0 && typed->homing_um_per_s <= typed->setup_um_per_s)
        return;
    snprintf(change, sizeof change, "set the drive's homing speed to at most %s, the setup speed",
             SPEED(verdict, 1, typed->setup_um_per_s / 1000.0));
    kr_finding_add(verdict, "", change, "The drive's homing speed is %s, and setup speed is %s.",
                   SPEED(verdict, 1, typed->homing_um_per_s / 1000.0),
                   SPEED(verdict, 1, typed->setup_um_per_s / 1000.0));
}

void kr_judge_drive_typed(const struct kr_drive *drive, const struct kr_drive_typed *typed,
                          struct kr_step_verdict *verdict)
{
    struct kr_drive_asked asked = kr_drive_asked(drive);
    judge_watchdog_time(drive, typed->watchdog_ms, verdict);
    if (asked.homing_method)
        judge_homing_method(typed->homing_method, verdict);
    if (asked.homing_speed)
        judge_homing_speed(typed, verdict);
}
