/* The ways in which alarms are provoked, which are the rows of provoke.def, and the judgement of a provoked alarm. */
#include <inttypes.h>
#include <stdio.h>

#include "kniferail/commission.h"
#include "kniferail/map.h"
#include "signals.h"
#include <string.h>

static const struct kr_provocation_by_hand by_hand[] = {
#define BY_HAND(name, test, situation, brief, act, undo, caution) \
    {KR_ALARM_##name, test, KR_PROVOKE_##situation, brief, act, undo, caution},
#include "kniferail/provoke.def"
};

static const struct kr_provocation_simulated simulated[] = {
#define KR_JOB_NONE             0
#define KR_CARRIAGE_BEFORE      KR_PROVOKE_BEFORE
#define KR_CARRIAGE_SECOND_PASS KR_PROVOKE_SECOND_PASS
#define KR_CARRIAGE_AWAY        KR_PROVOKE_AWAY
#define AT_SIMULATOR(name, needs, job, moment, fault, item, value, remedy) \
    {KR_ALARM_##name, KR_PROVOKE_##needs, KR_JOB_##job, KR_CARRIAGE_##moment, \
     fault,           KR_PROVOKE_##item,  value,        KR_PROVOKE_##remedy},
#include "kniferail/provoke.def"
#undef KR_JOB_NONE
#undef KR_CARRIAGE_BEFORE
#undef KR_CARRIAGE_SECOND_PASS
#undef KR_CARRIAGE_AWAY
};
#define N_SIMULATED (sizeof simulated / sizeof simulated[0])

const struct kr_provocation_by_hand *kr_provocation_by_hand(size_t index)
{
    return index < KR_N_BY_HAND ? &by_hand[index] : NULL;
}

const struct kr_provocation_simulated *kr_provocation_simulated(size_t index)
{
    return index < N_SIMULATED ? &simulated[index] : NULL;
}

static const struct kr_not_provoked not_provoked[] = {
#define NOT_PROVOKED(name, test, why) {KR_ALARM_##name, test, why},
#include "kniferail/provoke.def"
};

const struct kr_not_provoked *kr_not_provoked(uint16_t alarm_code)
{
    for (size_t i = 0; i < sizeof not_provoked / sizeof not_provoked[0]; i++)
        if (not_provoked[i].alarm_code == alarm_code)
            return &not_provoked[i];
    return NULL;
}

const char *kr_provoke_needs_text(enum kr_provoke_needs needs)
{
    switch (needs) {
    case KR_PROVOKE_ANYTHING: break;
    case KR_PROVOKE_COMMON_CLAMP: return "the station has no common clamp";
    case KR_PROVOKE_OWN_BRAKES: return "with a common clamp CLAMP_LOST takes its place";
    case KR_PROVOKE_REFERENCES: return "the rail has no references";
    case KR_PROVOKE_NO_REFERENCES: return "on a rail with references REFERENCES_SHIFTED takes its place";
    case KR_PROVOKE_REFERENCE_SWITCH: return "the references have no switch of their own";
    case KR_PROVOKE_TWO_PATTERNS: return "the first two rails do not both have references";
    case KR_PROVOKE_EXPECTED: return "the drive has no list of expected parameters";
    case KR_PROVOKE_TWO_PASSES: return "its scans see each flag once, on one way";
    case KR_PROVOKE_DATUM_BIT: return "the drive always counts as having its datum, and is not homed";
    case KR_PROVOKE_HOMING_METHOD: return "the drive does not tell how it is homed";
    case KR_PROVOKE_DRIFT: return "the drive is not homed, or no limit (carriage.drift_mm) is set for it";
    }
    return "";
}

/* ---- what was seen --------------------------------------------------------------------------------------------- */

static const char *name_of(uint16_t code)
{
    const struct kr_alarm_info *info = kr_alarm_info(code);
    return info != NULL ? info->name : "an unknown alarm";
}

void kr_provoke_how(const struct kr_provocation_simulated *p, int32_t value, int nth, char *how, size_t size)
{
    char figure[16] = "";
    if (strcmp(p->fault, "drive-fault") == 0) /* an error code, which manuals have in this form */
        snprintf(figure, sizeof figure, " %04" PRIX32 " hex", (uint32_t)value);
    else if (value != 0)
        snprintf(figure, sizeof figure, " %" PRId32, value);
    snprintf(how, size, "fault %s%s%s%s", p->fault, figure,
             p->phase == KR_PROVOKE_AWAY ? " while the link was lost" : "", nth > 1 ? ", at the second try" : "");
}

void kr_judge_alarm(const struct kr_alarm_seen *seen, struct kr_step_verdict *verdict)
{
    const char *name = name_of(seen->code), *where = seen->simulator ? "kniferail-sim" : "the machine";
    char text[120], names[128] = "";
    if (!seen->raised) {
        kr_finding_add(verdict, "",
                       "see that what provokes it was done, and that the alarm's limits in the station file are those "
                       "of this machine",
                       "%s was to be provoked at %s (%s) and was not seen. %s", name, where, seen->how,
                       seen->instead[0] != '\0' ? seen->instead : "No other alarm was seen, either.");
        return;
    }
    if (!seen->gone)
        kr_finding_add(
            verdict, "", "take back what provoked it, then do what the alarm's remedy says (kniferail status)",
            "%s was provoked at %s (%s) and seen, and it still stands after it was taken back and acknowledged.", name,
            where, seen->how);
    if (seen->code == KR_ALARM_PERMISSIVE_LOST) /* the drive's inputs have the names of the permissives */
        snprintf(names, sizeof names, " (%s)",
                 inputs_text((uint16_t)(seen->value * KR_DI_LINE_STOPPED), text, sizeof text));
    kr_figure_add(verdict, name, "%s; seen after %.1f s: %s%s; %s%s", seen->how, seen->raised_ms / 1000.0,
                  seen->sentence, names, seen->gone ? "gone when it was taken back and acknowledged" : "still stands",
                  seen->gone && seen->remedied != NULL ? seen->remedied : "");
}

void kr_judge_rehearsal(uint16_t n_provoked, uint16_t n_seen, struct kr_step_verdict *verdict)
{
    kr_figure_add(verdict, "alarms provoked against kniferail-sim", "%u, of which %u were seen", n_provoked, n_seen);
    if (n_provoked == 0)
        kr_finding_add(verdict, "", "see that the rehearsal runs a copy of this station's file",
                       "No alarm was provoked against kniferail-sim.");
}
