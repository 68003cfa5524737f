/* Judges whether the drive answers, is used, and shows the parameters that the station file expects. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/commission.h"

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
    char change[160];
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
    char change[160];
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
        kr_figure_add(verdict, e->name, "register %u shows %" PRId32 ", as expected", e->address,
                      kr_expected_shown(e, e->value));
    }
    if (drive->watchdog == KR_WATCHDOG_READ)
        kr_figure_add(verdict, "communication watchdog",
                      "register %" PRId32 " shows a value from 1 to %" PRId32 ", as expected",
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
