#include "status_view.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "kniferail/alarm.h"
#include "kniferail/client.h"
#include "map_words.h"

static uint16_t u16(const struct kr_image *image, enum kr_reg reg)
{
    return kr_get_u16(image, reg, 0, 0);
}

static uint32_t u32(const struct kr_image *image, enum kr_reg reg)
{
    return (uint32_t)kr_get_i32(image, reg, 0, 0);
}

static const char *name_of(const char *set, int number)
{
    const struct kr_named_number *n = kr_named(set, number);
    return n ? n->name : "?";
}

static const char *text_of(const char *set, int number)
{
    const struct kr_named_number *n = kr_named(set, number);
    return n ? n->text : "this program knows no such number";
}

static uint32_t u32_at(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    return (uint32_t)kr_get_i32(image, reg, 0, index);
}

/* "2:05 min", "1:02:05 h" */
static void print_seconds(FILE *to, uint32_t s)
{
    if (s >= 3600)
        fprintf(to, "%" PRIu32 ":%02" PRIu32 ":%02" PRIu32 " h", s / 3600, s / 60 % 60, s % 60);
    else
        fprintf(to, "%" PRIu32 ":%02" PRIu32 " min", s / 60, s % 60);
}

static void print_time(FILE *to, int32_t ms)
{
    print_seconds(to, ms > 0 ? (uint32_t)(((int64_t)ms + 500) / 1000) : 0);
}

/* what: the words before the names of the bits. */
static void print_bits(FILE *to, const char *label, const char *what, const char *set, uint16_t word)
{
    fprintf(to, "%-14s%s", label, what);
    const char *comma = "";
    for (int bit = 0; bit < 16; bit++) {
        if (!(word >> bit & 1))
            continue;
        fprintf(to, "%s%s", comma, name_of(set, bit));
        comma = ", ";
    }
    fprintf(to, "%s\n", word ? "" : "none");
}

/* The time between Start and the job's end, including interruptions. */
static bool runs_job(uint16_t state)
{
    switch ((enum kr_unit_state)state) {
    case KR_STATE_STARTING:
    case KR_STATE_EXECUTE:
    case KR_STATE_HOLDING:
    case KR_STATE_HELD:
    case KR_STATE_UNHOLDING:
    case KR_STATE_SUSPENDING:
    case KR_STATE_SUSPENDED:
    case KR_STATE_UNSUSPENDING:
    case KR_STATE_COMPLETING: return true;
    default: return false;
    }
}

static void print_job(FILE *to, const struct kr_image *image)
{
    uint16_t state = u16(image, KR_REG_UNIT_STATE), job = u16(image, KR_REG_JOB), phase = u16(image, KR_REG_PHASE);
    fprintf(to, "%-14s%s: %s\n", "unit state", name_of("UNIT_STATE", state), text_of("UNIT_STATE", state));
    if (job == 0)
        return;
    fprintf(to, "%-14s%s", runs_job(state) ? "job" : "last job", name_of("COMMAND_JOB", job));
    if (phase != KR_PHASE_NONE) {
        fprintf(to, ", phase %s: %s; %u %% done, ", name_of("PHASE", phase), text_of("PHASE", phase),
                u16(image, KR_REG_PROGRESS));
        print_time(to, kr_get_i32(image, KR_REG_TIME_LEFT, 0, 0));
        fprintf(to, " left");
    }
    fprintf(to, "\n");
}

static void print_orders(FILE *to, const struct kr_image *image)
{
    uint32_t in_force = u32(image, KR_REG_ORDER_IN_FORCE), staged = u32(image, KR_REG_ORDER_STAGED);
    bool verified = u16(image, KR_REG_STATUS) & KR_STATUS_VERIFIED;
    fprintf(to, "%-14s", "orders");
    if (in_force)
        fprintf(to, "order %" PRIu32 " is in force and %s; ", in_force, verified ? "verified" : "not verified");
    else
        fprintf(to, "no order is in force; ");
    if (staged)
        fprintf(to, "order %" PRIu32 " is staged", staged);
    else
        fprintf(to, "none is staged");
    for (uint16_t i = 0; i < u16(image, KR_REG_QUEUE_COUNT) && i < kr_reg_info(KR_REG_QUEUE_ORDER)->n; i++)
        fprintf(to, "%s %" PRIu32, i == 0 ? "; then" : ",", (uint32_t)kr_get_i32(image, KR_REG_QUEUE_ORDER, 0, i));
    fprintf(to, "\n");
}

static void print_control(FILE *to, const struct kr_image *image)
{
    char holder[48];
    uint16_t role = u16(image, KR_REG_OWN_ROLE);
    kr_get_text(image, KR_REG_CONTROL_HOLDER, holder, sizeof holder);
    fprintf(to, "%-14s%s%s; the address of this computer has the right to %s\n", "control",
            u16(image, KR_REG_CONTROL_HELD) ? "held by " : "no client has it", holder,
            kr_number_word("OWN_ROLE", role));
}

static void print_heartbeat(FILE *to, const struct kr_image *image)
{
    unsigned gap_ms = u16(image, KR_REG_HEARTBEAT_GAP), limit_ms = u16(image, KR_REG_HEARTBEAT_LIMIT);
    fprintf(to, "%-14sit has stood still for %u ms at most; the limit (heartbeat_limit_ms) is %u ms", "PLC heartbeat",
            gap_ms, limit_ms);
    if (3 * gap_ms > limit_ms)
        fprintf(to, ", and at least %u ms is advised", 3 * gap_ms);
    fprintf(to, "\n");
}

static void print_cycle(FILE *to, const struct kr_image *image)
{
    fprintf(to, "%-14severy %u ms; of %" PRIu32 " cycles %" PRIu32 " began more than %u ms late\n", "gateway cycle",
            u16(image, KR_REG_PERIOD), u32(image, KR_REG_CYCLES), u32(image, KR_REG_OVERRUNS),
            u16(image, KR_REG_PERIOD));
    fprintf(to, "%-14sthe longest time without a cycle was %u ms, ", "", u16(image, KR_REG_OWN_GAP));
    print_seconds(to, u32(image, KR_REG_OWN_GAP_AGE));
    fprintf(to, " ago\n");
}

const char *kr_view_line(const struct kr_image *image, char text[KR_VIEW_LINE_MAX])
{
    uint16_t line = u16(image, KR_REG_LINE_STATUS);
    const char *may_lower = !(line & KR_LINE_MAY_LOWER) ? "no"
                            : line & KR_LINE_TEST_CUT   ? "for a test cut alone"
                                                        : "yes";
    snprintf(text, KR_VIEW_LINE_MAX, "may start: %s; may run: %s; may lower: %s; raise knives: %s",
             line & KR_LINE_MAY_START ? "yes" : "no", line & KR_LINE_MAY_RUN ? "yes" : "no", may_lower,
             line & KR_LINE_RAISE ? "yes" : "no");
    return text;
}

void kr_view_station(FILE *to, const struct kr_image *image)
{
    char name[KR_NAME_MAX], line[KR_VIEW_LINE_MAX];
    kr_get_text(image, KR_REG_STATION_NAME, name, sizeof name);
    fprintf(to, "%-14s%s, session %u\n", "station", name, u16(image, KR_REG_SESSION));
    print_job(to, image);
    print_orders(to, image);
    fprintf(to, "%-14s%s\n", "line signals", kr_view_line(image, line));
    print_bits(to, "permissives", "given: ", "PERMISSIVES", u16(image, KR_REG_PERMISSIVES_SEEN));
    print_bits(to, "", "missing: ", "PERMISSIVES", u16(image, KR_REG_PERMISSIVES_MISSING));
    print_bits(to, "status bits", "", "STATUS", u16(image, KR_REG_STATUS));
    print_control(to, image);
    print_heartbeat(to, image);
    print_cycle(to, image);
}

/* ---- alarms, verdict, record --------------------------------------------------------------------------------- */

static void print_result(FILE *to, const struct kr_image *image, enum kr_client_result which)
{
    char text[KR_SENTENCE_MAX];
    kr_get_result_text(image, which, text, sizeof text);
    fprintf(to, "%s", text);
}

static void print_alarm(FILE *to, const struct kr_image *image, uint16_t index)
{
    char text[KR_SENTENCE_MAX];
    struct kr_alarm alarm = kr_get_alarm(image, index);
    const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
    kr_alarm_text(&alarm, image->format.length_unit, text, sizeof text);
    fprintf(to, "  alarm %u %s (%s), has stood for ", alarm.code, info ? info->name : "?",
            info ? kr_reaction_word(info->reaction) : "?");
    print_seconds(to, u32_at(image, KR_REG_ALARM_AGES, index));
    fprintf(to, ": %s\n", text);
    if (info)
        fprintf(to, "    %s\n", info->remedy);
    if (alarm.code == KR_ALARM_PLAN_REFUSED) {
        fprintf(to, "    result %u: ", u16(image, KR_REG_REFUSAL_CODE));
        print_result(to, image, KR_CLIENT_REFUSAL);
        fprintf(to, "\n");
    }
}

void kr_view_alarms(FILE *to, const struct kr_image *image)
{
    uint16_t n = u16(image, KR_REG_ALARM_COUNT), lost = u16(image, KR_REG_ALARMS_LOST);
    if (n == 0)
        fprintf(to, "%-14snone\n", "alarms");
    else
        fprintf(to, "%-14s%u, the oldest first\n", "alarms", n);
    for (uint16_t i = 0; i < kr_get_alarms(image); i++)
        print_alarm(to, image, i);
    if (lost)
        fprintf(to, "  the list has no room for %u more alarms\n", lost);
}

/* 0: no time was planned. */
static void print_verified(FILE *to, int32_t ms)
{
    if (ms <= 0)
        return;
    fprintf(to, ", and the order is verified ");
    print_time(to, ms);
    fprintf(to, " after Start");
}

void kr_view_verdict(FILE *to, const struct kr_image *image)
{
    if (u16(image, KR_REG_VERDICT_NUMBER)) {
        fprintf(to, "%-14srequest %u, %s, order %" PRIu32 ", %u slits: ", "last request",
                u16(image, KR_REG_VERDICT_NUMBER), name_of("REQUEST_KIND", u16(image, KR_REG_VERDICT_KIND)),
                u32(image, KR_REG_VERDICT_ORDER), u16(image, KR_REG_VERDICT_SLIT_COUNT));
        print_result(to, image, KR_CLIENT_VERDICT);
        if (u16(image, KR_REG_VERDICT_CODE) == KR_OK && kr_get_i32(image, KR_REG_VERDICT_TIME, 0, 0) > 0) {
            fprintf(to, "; the moves take ");
            print_time(to, kr_get_i32(image, KR_REG_VERDICT_TIME, 0, 0));
            print_verified(to, kr_get_i32(image, KR_REG_VERDICT_VERIFIED, 0, 0));
        }
        fprintf(to, "%s\n", u16(image, KR_REG_REQUEST_BUSY) ? "; another request is being judged" : "");
    }
    if (u16(image, KR_REG_COMMAND_ECHO)) {
        fprintf(to, "%-14scommand %u: ", "last command", u16(image, KR_REG_COMMAND_ECHO));
        print_result(to, image, KR_CLIENT_COMMAND);
        fprintf(to, "\n");
    }
}

static void print_ended(FILE *to, uint32_t utc_s)
{
    char text[32];
    struct tm utc;
    time_t at = (time_t)utc_s;
    if (utc_s == 0)
        return;
    strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S", gmtime_r(&at, &utc));
    fprintf(to, "; ended %s UTC", text);
}

static void print_planned(FILE *to, const char *what, const struct kr_image *image, enum kr_reg planned,
                          enum kr_reg took)
{
    fprintf(to, "\n%-14s%s: planned ", "", what);
    print_time(to, kr_get_i32(image, planned, 0, 0));
    fprintf(to, ", took ");
    print_time(to, kr_get_i32(image, took, 0, 0));
}

void kr_view_record(FILE *to, const struct kr_image *image)
{
    uint16_t result = u16(image, KR_REG_RECORD_RESULT);
    if (u16(image, KR_REG_RECORD_NUMBER) == 0)
        return;
    fprintf(to, "%-14sorder %" PRIu32 ": %s", "last record", u32(image, KR_REG_RECORD_ORDER),
            kr_number_word("RECORD_RESULT", result));
    print_ended(to, u32(image, KR_REG_RECORD_ENDED));
    print_planned(to, "moves", image, KR_REG_RECORD_PLANNED, KR_REG_RECORD_ACTUAL);
    print_planned(to, "whole job", image, KR_REG_RECORD_TOLD, KR_REG_RECORD_TOTAL);
    fprintf(to, "\n");
}

static const char legend[] =
    "              In the tables, size is the number of a holder size; known tells how the position is\n"
    "              known; deviation is position less target; metres is the length of web that the knife\n"
    "              has cut since its last grind.\n";

void kr_view_holder_legend(FILE *to, const struct kr_image *image)
{
    char name[KR_SIZE_NAME_MAX], spacing[32];
    fprintf(to, "%-14s", "holder sizes");
    fprintf(to, "number, name, and least spacing of two holders from centre to centre:\n%-14s", "");
    for (uint16_t i = 0; i < u16(image, KR_REG_SIZE_COUNT) && i < KR_SIZES_MAX; i++) {
        kr_get_size_name(image, (uint16_t)(i + 1), name);
        kr_length_text(kr_get_um(image, KR_REG_SIZE_SPACING, 0, i), image->format.length_unit, spacing, sizeof spacing);
        fprintf(to, "%s%u \"%s\" %s", i ? ", " : "", i + 1u, name, spacing);
    }
    fprintf(to, "\n%s", legend);
}
