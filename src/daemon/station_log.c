#include "station_log.h"

#include <stdio.h>
#include <string.h>

#include "log.h"
#include "words.h"

void station_log_open(struct station_log *log, const char *name, const struct kr_station *station,
                      struct kr_format format)
{
    const struct kr_verdict *verdict = &kr_station_durable(station)->verdict;
    const struct kr_edit *edit = &kr_station_durable(station)->edit;
    *log = (struct station_log){.name = name,
                                .format = format,
                                .state = kr_station_state(station),
                                .verdict_session = verdict->session,
                                .verdict_number = verdict->number,
                                .verdict_code = verdict->result.code,
                                .edit_session = edit->session,
                                .edit_number = edit->number};
}

/* ---- unit state and alarms -------------------------------------------------------------------------------- */

static void tell_state(struct station_log *log, enum kr_unit_state state)
{
    char from[WORD_MAX], to[WORD_MAX];
    if (state == log->state)
        return;
    bool bad = state == KR_STATE_ABORTING || state == KR_STATE_HOLDING || state == KR_STATE_SUSPENDING;
    log_line(bad ? LOG_WARNING : LOG_INFORMATION, "%s: unit state %s -> %s", log->name,
             word_for("UNIT_STATE", (int)log->state, from), word_for("UNIT_STATE", (int)state, to));
    log->state = state;
}

static enum log_priority weight_of(const struct kr_alarm *alarm)
{
    const struct kr_alarm_info *info = kr_alarm_info(alarm->code);
    if (info == NULL || info->reaction == KR_REACT_NONE)
        return LOG_NOTICE;
    return info->reaction == KR_REACT_ABORT ? LOG_ERROR : LOG_WARNING;
}

static void tell_alarm(const struct station_log *log, const struct kr_alarm *alarm, bool raised)
{
    char text[LOG_LINE_MAX / 2];
    const struct kr_alarm_info *info = kr_alarm_info(alarm->code);
    kr_alarm_text(alarm, log->format.length_unit, text, sizeof text);
    if (raised)
        log_line(weight_of(alarm), "%s: alarm %u: %s. %s", log->name, alarm->code, text, info ? info->remedy : "");
    else
        log_line(LOG_INFORMATION, "%s: alarm %u is gone: %s", log->name, alarm->code, text);
}

/* The alarm contains only the code of the refusal. */
static void tell_refusal(const struct station_log *log, const struct kr_result *refusal)
{
    char text[LOG_LINE_MAX / 2];
    kr_result_text(refusal, log->format.length_unit, text, sizeof text);
    log_line(LOG_WARNING, "%s: result %d: %s", log->name, (int)refusal->code, text);
}

static bool among(const struct kr_alarm *alarm, const struct kr_alarm list[], uint16_t n)
{
    for (uint16_t i = 0; i < n; i++)
        if (list[i].code == alarm->code && list[i].rail == alarm->rail && list[i].item == alarm->item)
            return true;
    return false;
}

static void tell_alarms(struct station_log *log, const struct kr_alarm now[], uint16_t n_now,
                        const struct kr_result *refusal, struct station_commits *commits)
{
    for (uint16_t i = 0; i < log->n_alarms; i++) {
        if (!among(&log->alarm[i], now, n_now)) {
            tell_alarm(log, &log->alarm[i], false);
            committer_alarm(commits, &log->alarm[i], false);
        }
    }
    for (uint16_t i = 0; i < n_now; i++) {
        if (!among(&now[i], log->alarm, log->n_alarms)) {
            tell_alarm(log, &now[i], true);
            if (now[i].code == KR_ALARM_PLAN_REFUSED && refusal)
                tell_refusal(log, refusal);
            committer_alarm(commits, &now[i], true);
        }
    }
    memcpy(log->alarm, now, n_now * sizeof now[0]);
    log->n_alarms = n_now;
}

void station_log_step(struct station_log *log, const struct kr_station *station, struct station_commits *commits)
{
    const struct kr_alarm *now;
    uint16_t n_now = kr_station_alarms(station, &now);
    /* Alarms come first, because they are the reason why the state changes. */
    if (n_now > 0 || log->n_alarms > 0)
        tell_alarms(log, now, n_now, kr_station_refusal(station), commits);
    tell_state(log, kr_station_state(station));
}

static void tell_audit(struct station_log *log, enum kr_audit_kind kind, const char *who, const char *result,
                       const char *what, const char *more)
{
    if (log->audit != NULL)
        audit_tell(log->audit, kind, log->station_number, who, result, "%s%s", what, more);
}

/* ---- commands and requests -------------------------------------------------------------------------------- */

static uint16_t word16(const struct kr_image *image, enum kr_reg reg)
{
    return image->word[kr_reg_address(reg, 0, 0)];
}

static uint32_t word32(const struct kr_image *image, enum kr_reg reg)
{
    uint16_t at = kr_reg_address(reg, 0, 0);
    uint32_t first = image->word[at], second = image->word[at + 1];
    return image->format.low_word_first ? second << 16 | first : first << 16 | second;
}

/* Rail, item, value and limit follow the code in the same way in both blocks; values are lengths in the station's unit
 * where the code says so. */
struct result_registers {
    enum kr_reg code, rail, item, value, limit;
};

static int32_t value_of(const struct kr_image *image, enum kr_reg reg, bool is_length)
{
    int32_t value = (int32_t)word32(image, reg);
    return is_length ? kr_um_from_nm(kr_nm_from_count(value, image->format.length_unit)) : value;
}

static struct kr_result result_of(const struct kr_image *image, const struct result_registers *regs)
{
    int code = word16(image, regs->code);
    const struct kr_code_info *info = kr_code_info(code);
    bool is_length = info != NULL && info->value == KR_VALUE_LENGTH;
    return (struct kr_result){.code = (enum kr_code)code,
                              .rail = word16(image, regs->rail),
                              .item = word16(image, regs->item),
                              .value = value_of(image, regs->value, is_length),
                              .limit = value_of(image, regs->limit, is_length)};
}

static void result_words(const struct kr_result *result, enum kr_length_unit unit, char *text, size_t size)
{
    int n = 0;
    if (result->code != KR_OK)
        n = snprintf(text, size, "refused, code %d: ", (int)result->code);
    kr_result_text(result, unit, text + n, size - (size_t)n);
}

/* Lines that clients can cause at will are limited, separately for each kind and each address. Accepted commands and
 * halts are never left out. So many lines of a kind may come at once, then one in so many ms. */
#define LIMITED_KINDS(X) \
    X(COMMAND, 20, 1000, "refused commands") \
    X(HALT, 20, 1000, "halts that changed nothing") \
    X(REQUEST, 100, 500, "requests and their verdicts") \
    X(EDIT, 100, 500, "maintenance requests and their verdicts")
enum limited {
#define X(name, lines, refill_ms, text) LIMITED_##name,
    LIMITED_KINDS(X)
#undef X
};
static const struct {
    struct kr_bucket_rate rate;
    const char *text;
} limited[] = {
#define X(name, lines, refill_ms, text) [LIMITED_##name] = {{lines, refill_ms}, text},
    LIMITED_KINDS(X)
#undef X
};

static bool may_tell(struct station_log *log, enum limited kind, const char *who)
{
    uint64_t left_out;
    if (!kr_bucket_take(&log->buckets, kind, who, limited[kind].rate, log->now_ms, &left_out))
        return false;
    if (left_out > 0)
        log_line(LOG_NOTICE, "%s: %s: %llu lines about %s were left out", log->name, who, (unsigned long long)left_out,
                 limited[kind].text);
    return true;
}

static void tell_left_out(struct station_log *log)
{
    struct kr_bucket_told told;
    while (kr_bucket_tell(&log->buckets, log->now_ms, &told))
        log_line(LOG_NOTICE, "%s: %s: %llu lines about %s were left out in %llu s", log->name, told.who,
                 (unsigned long long)told.left_out, limited[told.kind].text, (unsigned long long)(told.for_ms / 1000));
}

/* A PLC may write the same command in each of its cycles, so it is logged only once. */
void station_log_command(struct station_log *log, const struct kr_snapshot *command, const char *origin)
{
    if (!command->present || memcmp(command->word, log->command.word, sizeof command->word) == 0)
        return;
    log->command = *command;
    log->command_untold = true;
    snprintf(log->command_origin, sizeof log->command_origin, "%s", origin);
}

void station_log_request(struct station_log *log, const char *origin)
{
    snprintf(log->request_origin, sizeof log->request_origin, "%s", origin);
}

void station_log_edit(struct station_log *log, const char *origin)
{
    snprintf(log->edit_origin, sizeof log->edit_origin, "%s", origin);
}

static uint16_t commanded(const struct station_log *log, enum kr_reg reg)
{
    return kr_snapshot_u16(&log->command, KR_BLOCK_COMMAND, reg, 0);
}

/* "changeover at reduced speed", "jog, rail 2", "move, rail 1, holder 3, to 400.000 mm". */
static void start_words(const struct station_log *log, char *text, size_t size)
{
    char job[WORD_MAX], length[WORD_MAX];
    uint16_t kind = commanded(log, KR_REG_COMMAND_JOB), rail = commanded(log, KR_REG_COMMAND_RAIL);
    int64_t at_nm = kr_snapshot_nm(&log->command, KR_BLOCK_COMMAND, KR_REG_COMMAND_POSITION, 0, log->format);
    int n = snprintf(text, size, " %s%s", word_for("COMMAND_JOB", kind, job),
                     commanded(log, KR_REG_COMMAND_SPEED) == KR_SPEED_REDUCED ? " at reduced speed" : "");
    if (rail != 0)
        n += snprintf(text + n, size - (size_t)n, ", rail %u", rail);
    if (kind != KR_JOB_MOVE)
        return;
    kr_length_text(kr_um_from_nm(at_nm), log->format.length_unit, length, sizeof length);
    snprintf(text + n, size - (size_t)n, ", holder %u, to %s", commanded(log, KR_REG_COMMAND_HOLDER), length);
}

static void tell_command(struct station_log *log, const struct kr_image *image)
{
    static const struct result_registers regs = {KR_REG_COMMAND_RESULT, KR_REG_COMMAND_RESULT_RAIL,
                                                 KR_REG_COMMAND_RESULT_ITEM, KR_REG_COMMAND_RESULT_VALUE,
                                                 KR_REG_COMMAND_RESULT_LIMIT};
    char command[WORD_MAX], more[4 * WORD_MAX] = "", text[LOG_LINE_MAX / 2];
    uint16_t kind = commanded(log, KR_REG_COMMAND);
    struct kr_result result = result_of(image, &regs);
    result_words(&result, image->format.length_unit, text, sizeof text);
    if (kind == KR_COMMAND_START)
        start_words(log, more, sizeof more);
    tell_audit(log, KR_AUDIT_COMMAND, log->command_origin, text, word_for("COMMAND", kind, command), more);
    if (result.code != KR_OK && !may_tell(log, LIMITED_COMMAND, log->command_origin))
        return;
    log_line(result.code == KR_OK ? LOG_INFORMATION : LOG_NOTICE, "%s: command %u of %s, %s%s: %s", log->name,
             commanded(log, KR_REG_COMMAND_NUMBER), log->command_origin, word_for("COMMAND", kind, command), more,
             text);
}

void station_log_halt(struct station_log *log, uint16_t command, const char *origin, const struct kr_result *result)
{
    char word[WORD_MAX], text[LOG_LINE_MAX / 2];
    result_words(result, log->format.length_unit, text, sizeof text);
    tell_audit(log, KR_AUDIT_HALT, origin, text, word_for("COMMAND", command, word), "");
    if (result->code != KR_OK && !may_tell(log, LIMITED_HALT, origin))
        return;
    log_line(LOG_NOTICE, "%s: %s writes HALT %u, %s: %s", log->name, origin, command,
             word_for("COMMAND", command, word), text);
}

static void tell_verdict(struct station_log *log, const struct kr_image *image)
{
    static const struct result_registers regs = {KR_REG_VERDICT_CODE, KR_REG_VERDICT_RAIL, KR_REG_VERDICT_ITEM,
                                                 KR_REG_VERDICT_VALUE, KR_REG_VERDICT_LIMIT};
    char kind[WORD_MAX], text[LOG_LINE_MAX / 2], sum[WORD_MAX], what[16];
    struct kr_result result = result_of(image, &regs);
    uint16_t session = word16(image, KR_REG_VERDICT_SESSION), number = word16(image, KR_REG_VERDICT_NUMBER);
    if (session == log->verdict_session && number == log->verdict_number && result.code == log->verdict_code)
        return;
    log->verdict_session = session;
    log->verdict_number = number;
    log->verdict_code = result.code;
    result_words(&result, image->format.length_unit, text, sizeof text);
    kr_length_text(value_of(image, KR_REG_VERDICT_SUM, true), image->format.length_unit, sum, sizeof sum);
    (void)word_for("REQUEST_KIND", word16(image, KR_REG_VERDICT_KIND), kind);
    snprintf(what, sizeof what, " %lu", (unsigned long)word32(image, KR_REG_VERDICT_ORDER));
    tell_audit(log, KR_AUDIT_ORDER, log->request_origin, text, kind, what);
    if (!may_tell(log, LIMITED_REQUEST, "clients"))
        return;
    log_line(result.code == KR_OK ? LOG_INFORMATION : LOG_NOTICE, "%s: request %u, %s order %lu (%u slits, sum %s): %s",
             log->name, number, kind, (unsigned long)word32(image, KR_REG_VERDICT_ORDER),
             word16(image, KR_REG_VERDICT_SLIT_COUNT), sum, text);
}

/* A statement of a person on which a proof rests, and which the request's own fields do not show. */
static const char *stated(const struct kr_image *image, enum kr_code code)
{
    uint16_t kind = word16(image, KR_REG_EDITED_KIND);
    bool of_test_cut = kind == KR_EDIT_TEST_CUT || kind == KR_EDIT_TEST_CUT_MORE;
    return of_test_cut && code == KR_OK && word16(image, KR_REG_PROPOSAL_PAIRS) ? ", each pair was looked at" : "";
}

static void tell_edit(struct station_log *log, const struct kr_image *image)
{
    static const struct result_registers regs = {KR_REG_EDITED_CODE, KR_REG_EDITED_RAIL, KR_REG_EDITED_ITEM,
                                                 KR_REG_EDITED_VALUE, KR_REG_EDITED_LIMIT};
    char kind[WORD_MAX], text[LOG_LINE_MAX / 2], what[80];
    uint16_t session = word16(image, KR_REG_EDITED_SESSION), number = word16(image, KR_REG_EDITED_NUMBER);
    if (session == log->edit_session && number == log->edit_number)
        return;
    log->edit_session = session;
    log->edit_number = number;
    struct kr_result result = result_of(image, &regs);
    result.rail = 0; /* the line already contains it */
    result_words(&result, image->format.length_unit, text, sizeof text);
    (void)word_for("EDIT_KIND", word16(image, KR_REG_EDITED_KIND), kind);
    snprintf(what, sizeof what, ", rail %u, holder %u%s", word16(image, KR_REG_EDITED_RAIL),
             word16(image, KR_REG_EDITED_HOLDER), stated(image, result.code));
    tell_audit(log, KR_AUDIT_EDIT, log->edit_origin, text, kind, what);
    if (!may_tell(log, LIMITED_EDIT, "clients"))
        return;
    log_line(LOG_NOTICE, "%s: maintenance request %u, %s%s: %s", log->name, number,
             word_for("EDIT_KIND", word16(image, KR_REG_EDITED_KIND), kind), what, text);
}

/* A gap of at least a third of the limit is logged. A longer gap is logged only when it is a tenth longer, not for
 * every further millisecond. */
static void tell_heartbeat(struct station_log *log, const struct kr_image *image)
{
    uint32_t gap_ms = word16(image, KR_REG_HEARTBEAT_GAP), limit_ms = word16(image, KR_REG_HEARTBEAT_LIMIT);
    if (gap_ms < log->gap_ms)
        log->gap_ms = 0; /* another client is in control */
    if (3 * gap_ms <= limit_ms || 10 * gap_ms < 11u * log->gap_ms || gap_ms == log->gap_ms)
        return;
    log->gap_ms = (uint16_t)gap_ms;
    log_line(LOG_NOTICE,
             "%s: the PLC's heartbeat stood still for %u ms, the longest so far; heartbeat_limit_ms should be at "
             "least 3 times that, %u, and is %u",
             log->name, (unsigned)gap_ms, (unsigned)(3 * gap_ms), (unsigned)limit_ms);
}

void station_log_image(struct station_log *log, const struct kr_image *image, uint64_t now_ms)
{
    log->now_ms = now_ms;
    if (log->command_untold)
        tell_command(log, image);
    log->command_untold = false;
    tell_verdict(log, image);
    tell_edit(log, image);
    tell_heartbeat(log, image);
    tell_left_out(log);
}
