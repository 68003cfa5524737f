/* kniferail status --json */
#include "status_json.h"

#include "kniferail/alarm.h"
#include "kniferail/client.h"

static const char *name_of(const char *set, int number)
{
    const struct kr_named_number *n = kr_named(set, number);
    return n ? n->name : "?";
}

static uint16_t u16(const struct kr_image *image, enum kr_reg reg)
{
    return kr_get_u16(image, reg, 0, 0);
}

static json_t *number(const struct kr_image *image, enum kr_reg reg)
{
    return json_integer((json_int_t)(uint32_t)kr_get_i32(image, reg, 0, 0));
}

static json_t *bits(const char *set, uint16_t word)
{
    json_t *names = json_array();
    for (int bit = 0; bit < 16; bit++)
        if (word >> bit & 1)
            json_array_append_new(names, json_string(name_of(set, bit)));
    return names;
}

static json_t *alarm(const struct kr_image *image, uint16_t i)
{
    char text[KR_SENTENCE_MAX];
    struct kr_alarm a = kr_get_alarm(image, i);
    const struct kr_alarm_info *info = kr_alarm_info(a.code);
    kr_alarm_text(&a, image->format.length_unit, text, sizeof text);
    return json_pack("{s:i, s:s, s:i, s:i, s:i, s:i, s:I, s:s, s:s}", "code", a.code, "name", info ? info->name : "?",
                     "rail", a.rail, "item", a.item, "value", a.value, "limit", a.limit, "age_s",
                     (json_int_t)(uint32_t)kr_get_i32(image, KR_REG_ALARM_AGES, 0, i), "text", text, "remedy",
                     info ? info->remedy : "");
}

static json_t *alarms(const struct kr_image *image)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < kr_get_alarms(image); i++)
        json_array_append_new(list, alarm(image, i));
    return list;
}

/* Unknown values are null. */
static json_t *length(bool known, int32_t um)
{
    return known ? json_integer(um) : json_null();
}

static json_t *holder(const struct kr_scene_holder *h, int number_of_holder)
{
    return json_pack("{s:i, s:o, s:s, s:s, s:o, s:o, s:o}", "holder", number_of_holder, "cut",
                     h->cut ? json_integer(h->cut) : json_null(), "state", kr_number_word("HOLDER_STATE", h->state),
                     "known", kr_number_word("HOLDER_KNOWN", h->known), "position_um",
                     length(h->known != KR_UNKNOWN, h->at_um), "target_um", length(h->has_target, h->target_um),
                     "deviation_um", length(h->has_deviation, h->deviation_um));
}

static json_t *references(const struct kr_scene_rail *rail)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < rail->n_references; i++)
        json_array_append_new(list, json_pack("{s:i, s:b}", "place_um", rail->reference[i].at_um, "found",
                                              rail->reference[i].seen == KR_SCENE_FOUND));
    return list;
}

static json_t *rails(const struct kr_scene *scene, const struct kr_image *image)
{
    json_t *list = json_array();
    for (uint16_t r = 0; r < scene->n_rails; r++) {
        const struct kr_scene_rail *rail = &scene->rail[r];
        json_t *holders = json_array();
        for (uint16_t i = 0; i < rail->n_holders; i++)
            json_array_append_new(holders, holder(&rail->holder[i], i + 1));
        json_array_append_new(list, json_pack("{s:s, s:b, s:o, s:s, s:i, s:i, s:i, s:o, s:o}", "rail", rail->name,
                                              "link", rail->has_carriage, "carriage_um",
                                              length(rail->has_carriage, rail->carriage_um), "phase",
                                              name_of("CARRIAGE_PHASE", kr_get_u16(image, KR_REG_CARRIAGE_PHASE, r, 0)),
                                              "docked_holder", kr_get_u16(image, KR_REG_DOCKED_HOLDER, r, 0),
                                              "moves_done", kr_get_u16(image, KR_REG_MOVES_DONE, r, 0), "moves_planned",
                                              kr_get_u16(image, KR_REG_MOVES_PLANNED, r, 0), "references",
                                              references(rail), "holders", holders));
    }
    return list;
}

static json_t *cuts(const struct kr_scene *scene)
{
    json_t *list = json_array();
    for (uint16_t i = 0; i < scene->n_cuts; i++)
        json_array_append_new(list, json_integer(scene->cut_um[i]));
    return list;
}

json_t *kr_status_json(const struct kr_image *image)
{
    static struct kr_scene scene, staged;
    kr_scene_of_image(&scene, image);
    kr_scene_of_staged(&staged, image);
    return json_pack("{s:s, s:i, s:s, s:s, s:s, s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "station",
                     scene.station, "session", u16(image, KR_REG_SESSION), "unit_state",
                     name_of("UNIT_STATE", u16(image, KR_REG_UNIT_STATE)), "job",
                     u16(image, KR_REG_JOB) ? name_of("COMMAND_JOB", u16(image, KR_REG_JOB)) : "", "phase",
                     name_of("PHASE", u16(image, KR_REG_PHASE)), "progress_percent", u16(image, KR_REG_PROGRESS),
                     "time_left_ms", (int)kr_get_i32(image, KR_REG_TIME_LEFT, 0, 0), "order_in_force",
                     number(image, KR_REG_ORDER_IN_FORCE), "order_staged", number(image, KR_REG_ORDER_STAGED), "status",
                     bits("STATUS", u16(image, KR_REG_STATUS)), "line_status",
                     bits("LINE_STATUS", u16(image, KR_REG_LINE_STATUS)), "permissives",
                     bits("PERMISSIVES", u16(image, KR_REG_PERMISSIVES_SEEN)), "permissives_missing",
                     bits("PERMISSIVES", u16(image, KR_REG_PERMISSIVES_MISSING)), "alarms", alarms(image),
                     "cut_lines_um", cuts(&scene), "staged_cut_lines_um", cuts(&staged), "rails", rails(&scene, image));
}
