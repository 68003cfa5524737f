#include "view.h"

#include <stdbool.h>

#include "kniferail/axis.h"
#include "kniferail/client.h"

/* jansson takes over the reference that it is given, even NULL, and then fails. So it is enough to check the whole at
 * the end. */

static json_t *u16(const struct kr_image *image, enum kr_reg reg)
{
    return json_integer(kr_get_u16(image, reg, 0, 0));
}

static json_t *i32(const struct kr_image *image, enum kr_reg reg)
{
    return json_integer(kr_get_i32(image, reg, 0, 0));
}

static json_t *u32(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    return json_integer((uint32_t)kr_get_i32(image, reg, 0, index));
}

static json_t *um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return json_integer(kr_get_um(image, reg, rail, index));
}

static json_t *text_of(const struct kr_image *image, enum kr_reg reg)
{
    char text[64];
    kr_get_text(image, reg, text, sizeof text);
    return json_string(text);
}

/* Makes an object of a number of a list, with its name and the map's explanation. */
static json_t *named(const char *set, int number)
{
    const struct kr_named_number *n = kr_named(set, number);
    const char *text = n ? n->text : "this program knows no such number", *name = n ? n->name : "?";
    return json_pack("{s:i, s:s, s:s}", "number", number, "name", name, "text", text);
}

static json_t *word(const char *set, int number)
{
    return json_pack("{s:i, s:s}", "number", number, "word", kr_number_word(set, number));
}

/* Makes an array of every bit that the list names, with its value. */
static json_t *bits(const char *set, uint16_t value)
{
    json_t *all = json_array();
    for (int bit = 0; bit < 16; bit++) {
        const struct kr_named_number *n = kr_named(set, bit);
        if (n != NULL)
            json_array_append_new(
                all, json_pack("{s:s, s:s, s:b}", "name", n->name, "text", n->text, "on", value >> bit & 1));
    }
    return all;
}

static json_t *permissives(const struct kr_image *image)
{
    json_t *all = json_array();
    for (int bit = 0; bit < 16; bit++) {
        const struct kr_named_number *n = kr_named("PERMISSIVES", bit);
        if (n != NULL)
            json_array_append_new(all,
                                  json_pack("{s:s, s:s, s:b, s:b, s:b}", "name", n->name, "text", n->text, "given",
                                            kr_get_u16(image, KR_REG_PERMISSIVES_SEEN, 0, 0) >> bit & 1, "needed",
                                            kr_get_u16(image, KR_REG_PERMISSIVES_NEEDED, 0, 0) >> bit & 1, "missing",
                                            kr_get_u16(image, KR_REG_PERMISSIVES_MISSING, 0, 0) >> bit & 1));
    }
    return all;
}

static json_t *orders(const struct kr_image *image)
{
    json_t *queue = json_array();
    uint16_t n = kr_get_u16(image, KR_REG_QUEUE_COUNT, 0, 0), most = kr_reg_info(KR_REG_QUEUE_ORDER)->n;
    for (uint16_t i = 0; i < n && i < most; i++)
        json_array_append_new(queue, u32(image, KR_REG_QUEUE_ORDER, i));
    return json_pack("{s:o, s:b, s:o, s:o}", "in_force", u32(image, KR_REG_ORDER_IN_FORCE, 0), "verified",
                     kr_get_u16(image, KR_REG_STATUS, 0, 0) & KR_STATUS_VERIFIED, "staged",
                     u32(image, KR_REG_ORDER_STAGED, 0), "queue", queue);
}

/* ---- alarms and results ---------------------------------------------------------------------------------------- */

static const char *value_kind(enum kr_value_kind kind)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_VALUE_KINDS(X)
#undef X
    };
    return words[kind];
}

static json_t *alarm_at(const struct kr_image *image, uint16_t index)
{
    char text[KR_SENTENCE_MAX];
    struct kr_alarm alarm = kr_get_alarm(image, index);
    const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
    kr_alarm_text(&alarm, image->format.length_unit, text, sizeof text);
    return json_pack("{s:i, s:s, s:s, s:i, s:i, s:i, s:i, s:s, s:s, s:s, s:o}", "code", alarm.code, "name",
                     info ? info->name : "?", "reaction", info ? kr_reaction_word(info->reaction) : "?", "rail",
                     alarm.rail, "item", alarm.item, "value", alarm.value, "limit", alarm.limit, "value_is",
                     value_kind(info ? info->value : KR_VALUE_NONE), "text", text, "remedy", info ? info->remedy : "",
                     "age_s", u32(image, KR_REG_ALARM_AGES, index));
}

static json_t *alarms(const struct kr_image *image)
{
    json_t *all = json_array();
    for (uint16_t i = 0; i < kr_get_alarms(image); i++)
        json_array_append_new(all, alarm_at(image, i));
    return all;
}

static json_t *result_text(const struct kr_image *image, enum kr_client_result which)
{
    char text[KR_SENTENCE_MAX];
    kr_get_result_text(image, which, text, sizeof text);
    return json_string(text);
}

/* Makes null if there is no refusal. */
static json_t *refusal(const struct kr_image *image)
{
    return kr_get_u16(image, KR_REG_REFUSAL_CODE, 0, 0) == KR_OK ? json_null() : result_text(image, KR_CLIENT_REFUSAL);
}

static json_t *verdict(const struct kr_image *image)
{
    if (kr_get_u16(image, KR_REG_VERDICT_NUMBER, 0, 0) == 0)
        return json_null();
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "number", u16(image, KR_REG_VERDICT_NUMBER), "kind",
                     named("REQUEST_KIND", kr_get_u16(image, KR_REG_VERDICT_KIND, 0, 0)), "order",
                     u32(image, KR_REG_VERDICT_ORDER, 0), "slits", u16(image, KR_REG_VERDICT_SLIT_COUNT), "code",
                     u16(image, KR_REG_VERDICT_CODE), "text", result_text(image, KR_CLIENT_VERDICT), "moves_ms",
                     i32(image, KR_REG_VERDICT_TIME), "verified_ms", i32(image, KR_REG_VERDICT_VERIFIED));
}

static json_t *command(const struct kr_image *image)
{
    if (kr_get_u16(image, KR_REG_COMMAND_ECHO, 0, 0) == 0)
        return json_null();
    return json_pack("{s:o, s:o, s:o}", "number", u16(image, KR_REG_COMMAND_ECHO), "code",
                     u16(image, KR_REG_COMMAND_RESULT), "text", result_text(image, KR_CLIENT_COMMAND));
}

static json_t *record_rails(const struct kr_image *image)
{
    json_t *all = json_array();
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        json_array_append_new(all, json_pack("{s:i, s:i, s:i, s:i, s:o}", "moves",
                                             kr_get_u16(image, KR_REG_RECORD_MOVES, 0, r), "corrections",
                                             kr_get_u16(image, KR_REG_RECORD_CORRECTIONS, 0, r), "retries",
                                             kr_get_u16(image, KR_REG_RECORD_RETRIES, 0, r), "worst_holder",
                                             kr_get_u16(image, KR_REG_RECORD_WORST_HOLDER, 0, r), "worst_um",
                                             um(image, KR_REG_RECORD_WORST, 0, r)));
    return all;
}

static json_t *record(const struct kr_image *image)
{
    if (kr_get_u16(image, KR_REG_RECORD_NUMBER, 0, 0) == 0)
        return json_null();
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "order", u32(image, KR_REG_RECORD_ORDER, 0),
                     "result", word("RECORD_RESULT", kr_get_u16(image, KR_REG_RECORD_RESULT, 0, 0)), "planned_ms",
                     i32(image, KR_REG_RECORD_PLANNED), "actual_ms", i32(image, KR_REG_RECORD_ACTUAL), "told_ms",
                     i32(image, KR_REG_RECORD_TOLD), "total_ms", i32(image, KR_REG_RECORD_TOTAL), "worst_pair_um",
                     um(image, KR_REG_RECORD_WORST_PAIR, 0, 0), "worst_slit_um",
                     um(image, KR_REG_RECORD_WORST_SLIT, 0, 0), "rails", record_rails(image));
}

/* ---- the rails ------------------------------------------------------------------------------------------------- */

static json_t *holder(const struct kr_image *image, uint16_t rail, uint16_t i)
{
    uint16_t known = kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, i),
             cut = kr_get_u16(image, KR_REG_HOLDER_CUT, rail, i);
    bool may_be_lowered = kr_get_u16(image, KR_REG_CUTTING, rail, i / 16) >> i % 16 & 1;
    return json_pack("{s:i, s:i, s:b, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:I}", "number", i + 1, "cut", cut,
                     "may_be_lowered", may_be_lowered, "size", kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, i), "known",
                     word("HOLDER_KNOWN", known), "state",
                     word("HOLDER_STATE", kr_get_u16(image, KR_REG_HOLDER_STATE, rail, i)), "position_um",
                     known == KR_UNKNOWN ? json_null() : um(image, KR_REG_HOLDER_POSITION, rail, i), "target_um",
                     cut ? um(image, KR_REG_HOLDER_TARGET, rail, i) : json_null(), "deviation_um",
                     cut && known == KR_MEASURED ? um(image, KR_REG_HOLDER_DEVIATION, rail, i) : json_null(),
                     "offset_um", um(image, KR_REG_HOLDER_OFFSET, rail, i), "metres",
                     (json_int_t)(uint32_t)kr_get_i32(image, KR_REG_HOLDER_METRES, rail, i));
}

/* Tells whether a move is under way. In the phases at rest, the register contains the last target, or none. */
static bool is_under_way(uint16_t phase)
{
    return phase >= KR_CARRIAGE_TRAVELLING && phase <= KR_CARRIAGE_JOGGING;
}

/* The limit switches that the carriage is at, by the names of their inputs. */
static json_t *limits(const struct kr_image *image, uint16_t rail)
{
    json_t *names = json_array();
    uint16_t inputs = kr_get_u16(image, KR_REG_RAIL_INPUTS, rail, 0);
    if (inputs & KR_DI_LIMIT_LOW)
        json_array_append_new(names, json_string("limit_low"));
    if (inputs & KR_DI_LIMIT_HIGH)
        json_array_append_new(names, json_string("limit_high"));
    return names;
}

static json_t *carriage(const struct kr_image *image, uint16_t rail)
{
    uint16_t phase = kr_get_u16(image, KR_REG_CARRIAGE_PHASE, rail, 0);
    bool link = kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) != 0;
    return json_pack("{s:o, s:o, s:o, s:i, s:i, s:i, s:b, s:b, s:o}", "position_um",
                     link ? um(image, KR_REG_CARRIAGE_POSITION, rail, 0) : json_null(), "target_um",
                     link && is_under_way(phase) ? um(image, KR_REG_CARRIAGE_TARGET, rail, 0) : json_null(), "phase",
                     named("CARRIAGE_PHASE", phase), "docked", kr_get_u16(image, KR_REG_DOCKED_HOLDER, rail, 0),
                     "moves_done", kr_get_u16(image, KR_REG_MOVES_DONE, rail, 0), "moves_planned",
                     kr_get_u16(image, KR_REG_MOVES_PLANNED, rail, 0), "link", link, "referenced",
                     kr_get_u16(image, KR_REG_RAIL_REFERENCED, rail, 0) != 0, "limits", limits(image, rail));
}

static json_t *drive(const struct kr_image *image, uint16_t rail)
{
    return json_pack("{s:i, s:i, s:i, s:i}", "longest_answer_ms",
                     kr_get_u16(image, KR_REG_DRIVE_LONGEST_ANSWER, 0, rail), "retries",
                     kr_get_u16(image, KR_REG_DRIVE_RETRIES, 0, rail), "answers_lost",
                     kr_get_u16(image, KR_REG_DRIVE_ANSWERS_LOST, 0, rail), "links_lost",
                     kr_get_u16(image, KR_REG_DRIVE_LINKS_LOST, 0, rail));
}

static json_t *references(const struct kr_image *image, uint16_t rail)
{
    json_t *all = json_array();
    uint16_t n = kr_get_u16(image, KR_REG_REFERENCES, rail, 0), most = kr_reg_info(KR_REG_REFERENCE_PLACE)->n;
    for (uint16_t i = 0; i < n && i < most; i++)
        json_array_append_new(all, json_pack("{s:i, s:o, s:b}", "number", i + 1, "place_um",
                                             um(image, KR_REG_REFERENCE_PLACE, rail, i), "found",
                                             kr_get_u16(image, KR_REG_REFERENCES_GOOD, rail, 0) >> i & 1));
    return all;
}

static json_t *rails(const struct kr_image *image)
{
    json_t *all = json_array();
    for (uint16_t r = 0; r < kr_get_rails(image); r++) {
        json_t *holders = json_array();
        for (uint16_t i = 0; i < kr_get_holders(image, r); i++)
            json_array_append_new(holders, holder(image, r, i));
        json_array_append_new(all, json_pack("{s:i, s:o, s:o, s:o, s:o, s:o}", "number", r + 1, "role",
                                             word("RAIL_ROLE", kr_get_u16(image, KR_REG_RAIL_ROLE, r, 0)), "carriage",
                                             carriage(image, r), "drive", drive(image, r), "references",
                                             references(image, r), "holders", holders));
    }
    return all;
}

static json_t *slits(const struct kr_scene *scene)
{
    json_t *all = json_array();
    for (uint16_t i = 0; i < scene->n_slits; i++)
        json_array_append_new(
            all, json_pack("{s:i, s:i, s:i, s:o}", "number", i + 1, "from_um", scene->slit[i].left_um, "to_um",
                           scene->slit[i].right_um, "measured_um",
                           scene->slit[i].has_measured ? json_integer(scene->slit[i].measured_um) : json_null()));
    return all;
}

/* Makes the cuts of an order: null if there is no order, or its cut lines are not known. */
static json_t *cuts(const struct kr_image *image, const struct kr_cut_registers *of, const struct kr_scene *scene)
{
    json_t *lines = json_array();
    if (scene->n_cuts == 0) {
        json_decref(lines);
        return json_null();
    }
    for (uint16_t i = 0; i < scene->n_cuts; i++)
        json_array_append_new(lines, um(image, of->line, 0, i));
    return json_pack("{s:I, s:o, s:o, s:o, s:o, s:o, s:o}", "order", (json_int_t)scene->order_number, "lines_um", lines,
                     "trim_operator_um", um(image, of->trim[0], 0, 0), "trim_drive_um", um(image, of->trim[1], 0, 0),
                     "web_operator_um", um(image, of->web[0], 0, 0), "web_drive_um", um(image, of->web[1], 0, 0),
                     "slits", slits(scene));
}

static json_t *cuts_in_force(const struct kr_image *image, struct kr_scene *scene)
{
    kr_scene_of_image(scene, image);
    return cuts(image, &kr_cuts_in_force, scene);
}

static json_t *cuts_staged(const struct kr_image *image, struct kr_scene *scene)
{
    kr_scene_of_staged(scene, image);
    return cuts(image, &kr_cuts_staged, scene);
}

static json_t *sizes(const struct kr_image *image)
{
    json_t *all = json_array();
    char name[KR_SIZE_NAME_MAX];
    for (uint16_t i = 0; i < kr_get_u16(image, KR_REG_SIZE_COUNT, 0, 0) && i < KR_SIZES_MAX; i++) {
        kr_get_size_name(image, (uint16_t)(i + 1), name);
        json_array_append_new(all, json_pack("{s:i, s:s, s:o}", "number", i + 1, "name", name, "spacing_um",
                                             um(image, KR_REG_SIZE_SPACING, 0, i)));
    }
    return all;
}

/* ---- the whole ------------------------------------------------------------------------------------------------- */

static json_t *gateway(const struct kr_image *image)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "map_version", u16(image, KR_REG_MAP_VERSION),
                     "session", u16(image, KR_REG_SESSION), "cycles", u32(image, KR_REG_CYCLES, 0), "overruns",
                     u32(image, KR_REG_OVERRUNS, 0), "period_ms", u16(image, KR_REG_PERIOD), "own_gap_ms",
                     u16(image, KR_REG_OWN_GAP), "own_gap_age_s", u32(image, KR_REG_OWN_GAP_AGE, 0), "heartbeat_gap_ms",
                     u16(image, KR_REG_HEARTBEAT_GAP));
}

static json_t *control(const struct kr_image *image)
{
    return json_pack("{s:o, s:o}", "state", word("CONTROL_HELD", kr_get_u16(image, KR_REG_CONTROL_HELD, 0, 0)),
                     "holder", text_of(image, KR_REG_CONTROL_HOLDER));
}

static json_t *job(const struct kr_image *image)
{
    uint16_t number = kr_get_u16(image, KR_REG_JOB, 0, 0);
    if (number == 0)
        return json_null();
    return json_pack("{s:o, s:o, s:o, s:o}", "job", named("COMMAND_JOB", number), "phase",
                     named("PHASE", kr_get_u16(image, KR_REG_PHASE, 0, 0)), "progress_percent",
                     u16(image, KR_REG_PROGRESS), "time_left_ms", i32(image, KR_REG_TIME_LEFT));
}

json_t *view_summary(const struct kr_image *image)
{
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "name", text_of(image, KR_REG_STATION_NAME), "state",
                     named("UNIT_STATE", kr_get_u16(image, KR_REG_UNIT_STATE, 0, 0)), "in_state_s",
                     u32(image, KR_REG_IN_STATE, 0), "job", job(image), "orders", orders(image), "line",
                     bits("LINE_STATUS", kr_get_u16(image, KR_REG_LINE_STATUS, 0, 0)), "alarms", alarms(image));
}

json_t *view_station(const struct kr_image *image, struct kr_scene *scene)
{
    json_t *all = view_summary(image);
    json_t *more = json_pack("{s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "length_unit",
                             kr_number_word("LENGTH_UNIT", kr_get_u16(image, KR_REG_LENGTH_UNIT, 0, 0)), "status",
                             bits("STATUS", kr_get_u16(image, KR_REG_STATUS, 0, 0)), "permissives", permissives(image),
                             "alarms_lost", u16(image, KR_REG_ALARMS_LOST), "refusal", refusal(image), "verdict",
                             verdict(image), "command", command(image), "record", record(image), "control",
                             control(image), "cuts", cuts_in_force(image, scene), "next", cuts_staged(image, scene),
                             "sizes", sizes(image), "rails", rails(image), "gateway", gateway(image));
    if (json_object_update_new(all, more) != 0) {
        json_decref(all);
        return NULL;
    }
    return all;
}
