/* Judges direction and distance of the carriage: what a person sees, against what the registers show. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/alarm.h"
#include "kniferail/commission.h"
#include "said.h"

#define FIRST_UM_PER_S 10000 /* a jog without a datum is no faster */

#define STANDS_UM 300 /* a carriage that goes less has not moved: this is play and following error */

/* Tells whether the halves of a position look exchanged. Such a position changes by 65536 for each count, or by a count
 * for each 65536. */
static bool looks_exchanged(const struct kr_jog_seen *seen)
{
    int64_t gone = llabs((long long)seen->alarm_value), could = llabs((long long)seen->alarm_limit);
    return gone > 1000 * (could > 1000 ? could : 1000);
}

static void judge_alarm(const struct kr_drive *drive, const struct kr_jog_seen *seen, struct kr_step_verdict *verdict)
{
    if (seen->alarm == KR_ALARM_JOG_ASTRAY && looks_exchanged(seen))
        kr_finding_add(verdict, "drive.word_order",
                       drive->map.low_word_first ? "\"high_word_first\"" : "\"low_word_first\"",
                       "The position changed by %s in a jog that could go %s: the halves of a 32-bit value "
                       "are exchanged.",
                       LENGTH(verdict, 3, seen->alarm_value / 1e3), LENGTH(verdict, 3, seen->alarm_limit / 1e3));
    else if (seen->alarm == KR_ALARM_JOG_ASTRAY && seen->alarm_value < 0)
        kr_finding_add(verdict, "",
                       "look at the drive's own polarity (607Eh), and whether position and target have the same one",
                       "The position went %s against the direction that was told.",
                       LENGTH(verdict, 3, abs(seen->alarm_value) / 1e3));
    else if (seen->alarm == KR_ALARM_JOG_ASTRAY)
        kr_finding_add(
            verdict, "drive.position_um",
            "how many micrometres position_units are; the speed's units likewise (speed_units, speed_um_per_s)",
            "The position went %s in a jog that could go %s.", LENGTH(verdict, 3, seen->alarm_value / 1e3),
            LENGTH(verdict, 3, seen->alarm_limit / 1e3));
    else
        kr_finding_add(verdict, "", "do what the alarm's remedy says, and let the step be made again",
                       "The jog was ended by an alarm: %.230s", seen->alarm_text);
}

static const char *side_text(enum kr_side_seen side)
{
    switch (side) {
    case KR_SEEN_NOWHERE: return "nowhere";
    case KR_SEEN_DRIVE_SIDE: return "to the drive side";
    case KR_SEEN_OPERATOR_SIDE: return "to the operator side";
    }
    return "?";
}

static void judge_side(const struct kr_drive *drive, const struct kr_jog_seen *seen, struct kr_step_verdict *verdict)
{
    enum kr_side_seen told = seen->direction > 0 ? KR_SEEN_DRIVE_SIDE : KR_SEEN_OPERATOR_SIDE;
    int64_t shown = (int64_t)seen->direction * seen->shown_um;
    char name[80];
    if (seen->side == KR_SEEN_NOWHERE && llabs((long long)shown) < STANDS_UM)
        kr_finding_add(
            verdict, "",
            "look for the drive's enable and its torque limit; then, with drives and air locked out, at its brake",
            "The carriage did not move, and the position stands.");
    else if (seen->side == KR_SEEN_NOWHERE)
        kr_finding_add(verdict, "",
                       "look whether this rail's drive moves another carriage (drives exchanged: drive.address, "
                       "drive.unit_id), and at the coupling, with drives and air locked out",
                       "The position changed by %s, and a person saw this carriage stand.",
                       LENGTH(verdict, 3, seen->shown_um / 1e3));
    else if (seen->side != told && shown > 0)
        kr_finding_add(verdict, "drive.counts_towards", drive->map.reversed ? "\"drive_side\"" : "\"operator_side\"",
                       "The carriage was told to go %s and went %s, and its position followed what was told.",
                       side_text(told), side_text(seen->side));
    else if (shown < STANDS_UM)
        kr_finding_add(
            verdict, "drive.registers.position",
            "the register of 6064h; else look at the drive's own polarity and, with drives and air locked out, at "
            "the encoder",
            "The carriage went %s, and its position shows %s.", side_text(seen->side),
            LENGTH(verdict, 3, seen->shown_um / 1e3));
    else {
        snprintf(name, sizeof name, "told to go %s", side_text(told));
        kr_figure_add(verdict, name, "went there, by the word of a person; the position changed by %s",
                      LENGTH(verdict, 3, seen->shown_um / 1e3));
    }
}

void kr_judge_direction(const struct kr_drive *drive, const struct kr_jog_seen *seen, struct kr_step_verdict *verdict)
{
    if (seen->alarm != 0)
        judge_alarm(drive, seen, verdict);
    else
        judge_side(drive, seen, verdict);
}

void kr_judge_first_jog(const struct kr_drive *drive, int32_t setup_um_per_s, struct kr_step_verdict *verdict)
{
    if (drive->map.referenced_bit != KR_NO_BIT || setup_um_per_s <= FIRST_UM_PER_S)
        return;
    char change[KR_CHANGE_MAX];
    snprintf(change, sizeof change, "%s for this step, and back to what it was once direction and scale have passed",
             SAID(verdict, KR_SAID_SETTING | KR_SAID_SPEED, 0, FIRST_UM_PER_S / 1e3));
    kr_finding_add(
        verdict, "carriage.setup_speed_mm_per_s", change,
        "By drive.referenced_bit = -1 the position of this drive is believed before anybody has seen which way "
        "it goes: the first jog would go at the setup speed of %s, and no alarm would stop it if it "
        "went astray. The carriage was not jogged.",
        SPEED(verdict, 1, setup_um_per_s / 1e3));
}

/* ---- scale ----------------------------------------------------------------------------------------------------- */

bool kr_tape_way_is_enough(const struct kr_tape_seen *seen)
{
    int64_t way = llabs((long long)seen->shown_um), least = 20LL * seen->uncertain_um;
    return way >= KR_TAPE_WAY_LEAST_UM && way >= least;
}

void kr_judge_scale(const struct kr_drive *drive, const struct kr_tape_seen *seen, struct kr_step_verdict *verdict)
{
    double shown = seen->shown_um, tape = seen->tape_um;
    char change[KR_CHANGE_MAX];
    kr_figure_add(verdict, "way by the registers", "%s", LENGTH(verdict, 3, shown / 1e3));
    kr_figure_add(verdict, "way by the tape", "%s, which may be off by %s", LENGTH(verdict, 3, tape / 1e3),
                  LENGTH(verdict, 3, seen->uncertain_um / 1e3));
    if (!kr_tape_way_is_enough(seen)) {
        kr_finding_add(verdict, "", "jog further, at least 20 times what the tape may be off, and read again",
                       "The way of %s is too short to tell the scale.", LENGTH(verdict, 3, shown / 1e3));
        return;
    }
    kr_figure_add(verdict, "way by the tape, divided by that by the registers", "%.4f", tape / shown);
    if (llabs((long long)seen->tape_um - seen->shown_um) <= seen->uncertain_um)
        return;
    int32_t um = drive->map.position.um;
    if (tape / shown <= 0)
        snprintf(change, sizeof change, "what it should be; and look at the direction once more");
    else
        snprintf(change, sizeof change, "about %.0f with position_units = %" PRId32 " (it is %" PRId32 ")",
                 um * tape / shown, drive->map.position.units, um);
    kr_finding_add(verdict, "drive.position_um", change, "The carriage went %s by the tape, and %s by the registers.",
                   LENGTH(verdict, 3, tape / 1e3), LENGTH(verdict, 3, shown / 1e3));
}
