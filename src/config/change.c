/* Compares a file that was read again with the config that runs: each row of the settings' tables, at its place in
 * both. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <zlib.h>

#include "reading.h"

const char *kr_change_text(enum kr_change change)
{
    switch (change) {
    case KR_CHANGE_NONE: return "";
    case KR_CHANGE_LIVE: return "a reload takes it at any time";
    case KR_CHANGE_UNVERIFY: return "a reload takes it at any time and undoes the verification";
    case KR_CHANGE_GEOMETRY: return "a reload takes it only while the unit is Stopped or Idle";
    case KR_CHANGE_RESTART: return "it needs a restart";
    case KR_CHANGE_SEED: return "the book keeps it after the first start";
    }
    return "";
}

/* ---- one difference -------------------------------------------------------------------------------------------- */

struct comparison {
    enum kr_change most, strongest; /* the strongest change that may be taken over; the strongest that was */
    struct kr_config_listener listener;
    bool without_simulated;
    bool restart;   /* a setting that needs a restart differs, apart from the simulated machine's */
    bool all;       /* settings that do not differ are reported, too */
    char place[64]; /* comes before the setting's name: "rail 1: " */
};

/* Returns the group in which a person looks for a setting, without the part that the place already says. */
static const char *group_in_place(const char *group)
{
    static const char *const said[] = {"stations.rails.holders", "stations.rails.", "stations.rails",
                                       "stations.sizes",         "stations.",       "stations"};
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++)
        if (strncmp(group, said[i], strlen(said[i])) == 0)
            return group + strlen(said[i]);
    return group;
}

/* Reports the difference. Returns whether it is to be taken over. */
static bool told(struct comparison *c, const struct kr_table *table, const struct kr_setting *row,
                 struct kr_config_difference *difference)
{
    const char *group = group_in_place(table->group);
    snprintf(difference->where, sizeof difference->where, "%s%s%s%s", c->place, group, group[0] ? "." : "", row->name);
    bool waits = c->restart && row->change == KR_CHANGE_GEOMETRY;
    difference->change = waits ? KR_CHANGE_RESTART : row->change;
    difference->taken = difference->change <= c->most;
    if (difference->taken && row->change > c->strongest)
        c->strongest = row->change;
    c->listener.tell(c->listener.self, difference);
    return difference->taken;
}

static bool is_inner(const struct kr_setting *row)
{
    return row->kind == KR_SETTING_GROUP || row->kind == KR_SETTING_LIST || row->kind == KR_SETTING_TEXTS;
}

static bool same(const struct kr_setting *row, const void *now, const void *next)
{
    const char *a = (const char *)now + row->offset, *b = (const char *)next + row->offset;
    /* It has rows of its own, which are compared one by one. */
    if (is_inner(row))
        return true;
    return row->kind == KR_SETTING_TEXT ? strcmp(a, b) == 0 : memcmp(a, b, row->size) == 0;
}

static void compare_row(struct comparison *c, const struct kr_table *table, const struct kr_setting *row, void *now,
                        const void *next)
{
    struct kr_config_difference difference;
    if (is_inner(row) || (!c->all && same(row, now, next)))
        return;
    kr_setting_value(row, now, difference.was, sizeof difference.was);
    kr_setting_value(row, next, difference.is, sizeof difference.is);
    if (told(c, table, row, &difference))
        memcpy((char *)now + row->offset, (const char *)next + row->offset, row->size);
}

static void compare_rows(struct comparison *c, const struct kr_table *table, void *now, const void *next)
{
    for (size_t i = 0; i < table->n; i++)
        compare_row(c, table, &table->row[i], now, next);
}

static const struct kr_setting *row_named(const struct kr_table *table, const char *name)
{
    const struct kr_setting *row = table->row;
    while (strcmp(row->name, name) != 0)
        row++;
    return row;
}

/* Compares a whole list or group, which has no field of its own. Returns whether it is to be taken over. */
static bool compare_inner(struct comparison *c, const struct kr_table *table, const char *name, bool alike)
{
    struct kr_config_difference difference = {.was = "", .is = ""};
    return !alike && told(c, table, row_named(table, name), &difference);
}

/* ---- the daemon and the face ----------------------------------------------------------------------------------- */

static bool same_listen(const struct kr_config_face *a, const struct kr_config_face *b)
{
    bool alike = a->n_listen == b->n_listen;
    for (uint16_t i = 0; alike && i < a->n_listen; i++)
        for (size_t k = 0; k < kr_listen_table.n; k++)
            alike = alike && same(&kr_listen_table.row[k], &a->listen[i], &b->listen[i]);
    return alike;
}

static bool same_prefix(const struct kr_prefix *a, const struct kr_prefix *b)
{
    return a->bits == b->bits && memcmp(a->address, b->address, sizeof a->address) == 0;
}

static bool same_rules(const struct kr_config_face *a, const struct kr_config_face *b)
{
    bool alike = a->n_rules == b->n_rules;
    for (uint16_t i = 0; alike && i < a->n_rules; i++)
        alike = a->rule[i].right == b->rule[i].right && a->rule[i].station_number == b->rule[i].station_number &&
                same_prefix(&a->rule[i].prefix, &b->rule[i].prefix);
    return alike;
}

static bool same_group(const struct kr_face_group *a, const struct kr_face_group *b)
{
    bool alike = strcmp(a->name, b->name) == 0 && a->n_prefixes == b->n_prefixes;
    for (uint16_t i = 0; alike && i < a->n_prefixes; i++)
        alike = same_prefix(&a->prefix[i], &b->prefix[i]);
    return alike;
}

static bool same_groups(const struct kr_config_face *a, const struct kr_config_face *b)
{
    bool alike = a->n_groups == b->n_groups;
    for (uint16_t i = 0; alike && i < a->n_groups; i++)
        alike = same_group(&a->group[i], &b->group[i]);
    return alike;
}

/* A rule names its station. In another file, this station may have another index, or may not be running. */
static void number_stations(const struct kr_config *now, const struct kr_config *next, struct kr_config_face *face)
{
    for (uint16_t i = 0; i < face->n_rules; i++) {
        uint16_t *number = &face->rule[i].station_number;
        if (*number == 0)
            continue;
        int index = kr_config_station_named(now, next->station[*number - 1].station.name);
        *number = index >= 0 ? (uint16_t)(index + 1) : KR_RULE_OF_NO_STATION;
    }
}

static void compare_face(struct comparison *c, struct kr_config *now, const struct kr_config *next)
{
    struct face_settings was, is;
    kr_face_view(now, &was);
    kr_face_view(next, &is);
    number_stations(now, next, &is.face);
    compare_rows(c, &kr_face_table, &was, &is);
    compare_inner(c, &kr_face_table, "listen", same_listen(&was.face, &is.face));
    if (compare_inner(c, &kr_face_table, "rules", same_rules(&was.face, &is.face))) {
        was.face.n_rules = is.face.n_rules;
        memcpy(was.face.rule, is.face.rule, sizeof was.face.rule);
    }
    if (compare_inner(c, &kr_face_table, "groups", same_groups(&was.face, &is.face))) {
        was.face.n_groups = is.face.n_groups;
        memcpy(was.face.group, is.face.group, sizeof was.face.group);
    }
    now->face = was.face;
}

enum kr_change kr_config_take_daemon(struct kr_config *now, const struct kr_config *next, enum kr_change most,
                                     struct kr_config_listener listener)
{
    struct comparison c = {.most = most, .listener = listener};
    compare_rows(&c, &kr_daemon_table, now, next);
    compare_face(&c, now, next);
    return c.strongest;
}

/* ---- a station ------------------------------------------------------------------------------------------------- */

/* If holders of one entry differ in the same way, the first is named, and the number of the others. */
static void compare_holder_row(struct comparison *c, const struct kr_setting *row, uint16_t rail, uint16_t n,
                               const struct kr_config_station *now, const struct kr_config_station *next)
{
    struct holder_settings was, is, first_was = {0}, first_is = {0};
    uint16_t differ = 0, first = 0;
    for (uint16_t h = 0; h < n; h++) {
        kr_holder_view(now, &now->holder[rail][h], &was);
        kr_holder_view(next, &next->holder[rail][h], &is);
        if (same(row, &was, &is) || differ++ > 0)
            continue;
        first = (uint16_t)(h + 1);
        first_was = was;
        first_is = is;
    }
    if (differ == 0)
        return;
    char more[24] = "";
    if (differ > 1)
        snprintf(more, sizeof more, " and %u more", differ - 1u);
    snprintf(c->place, sizeof c->place, "rail %u: holder %u%s: ", rail + 1u, (unsigned)first, more);
    compare_row(c, &kr_holder_table, row, &first_was, &first_is);
}

static void compare_holders(struct comparison *c, uint16_t rail, uint16_t n, const struct kr_config_station *now,
                            const struct kr_config_station *next)
{
    for (size_t i = 0; i < kr_holder_table.n; i++)
        compare_holder_row(c, &kr_holder_table.row[i], rail, n, now, next);
}

static void compare_drive(struct comparison *c, const struct kr_drive *now, const struct kr_drive *next)
{
    struct drive_settings was, is;
    kr_drive_view(now, &was);
    kr_drive_view(next, &is);
    compare_rows(c, &kr_drive_table, &was, &is);
    compare_rows(c, &kr_registers_table, &was, &is);
    compare_rows(c, &kr_outputs_table, &was, &is);
    compare_rows(c, &kr_inputs_table, &was, &is);
    compare_inner(c, &kr_drive_table, "expected", kr_expected_same(now, next));
}

/* Rows that are in the table of a rail and in that of the whole machine belong to the rails. */
static void compare_simulated(struct comparison *c, uint16_t rail, const struct kr_config_station *now,
                              const struct kr_config_station *next)
{
    struct simulated_settings was, is;
    kr_simulated_view(now, rail, &was);
    kr_simulated_view(next, rail, &is);
    compare_rows(c, &kr_physics_table, &was, &is);
    if (rail > 0)
        return;
    c->place[0] = '\0';
    for (size_t i = kr_physics_table.n; i < kr_simulated_table.n; i++)
        compare_row(c, &kr_simulated_table, &kr_simulated_table.row[i], &was, &is);
}

static bool same_points(const struct kr_frame *a, const struct kr_frame *b)
{
    return a->n_points == b->n_points && memcmp(a->point, b->point, a->n_points * sizeof a->point[0]) == 0;
}

static bool same_references(const struct kr_references *a, const struct kr_references *b)
{
    return a->n == b->n && a->n_low == b->n_low && memcmp(a->flag, b->flag, a->n * sizeof a->flag[0]) == 0;
}

static void compare_references(struct comparison *c, struct kr_references *was, const struct kr_references *is)
{
    if (!compare_inner(c, &kr_frame_table, "references", same_references(was, is)))
        return;
    was->n = is->n;
    was->n_low = is->n_low;
    memcpy(was->flag, is->flag, sizeof was->flag);
}

static void compare_frame(struct comparison *c, struct rail_settings *now, const struct rail_settings *next)
{
    struct kr_frame *was = &now->carriage.frame;
    const struct kr_frame *is = &next->carriage.frame;
    compare_rows(c, &kr_frame_table, now, next);
    compare_references(c, &now->carriage.references, &next->carriage.references);
    if (!compare_inner(c, &kr_frame_table, "table", same_points(was, is)))
        return;
    was->n_points = is->n_points;
    memcpy(was->point, is->point, sizeof was->point);
}

static void compare_rail(struct comparison *c, uint16_t rail, struct kr_config_station *now,
                         const struct kr_config_station *next)
{
    struct rail_settings was, is;
    kr_rail_view(now, rail, &was);
    kr_rail_view(next, rail, &is);
    uint16_t n = was.geometry.n_holders;
    bool as_many = n == is.geometry.n_holders;
    snprintf(c->place, sizeof c->place, "rail %u: ", rail + 1u);
    compare_rows(c, &kr_rail_table, &was, &is);
    compare_inner(c, &kr_rail_table, "holders", as_many);
    compare_frame(c, &was, &is);
    compare_rows(c, &kr_carriage_table, &was, &is);
    kr_rail_lay(&was, rail, now);
    if (now->has_drives && next->has_drives)
        compare_drive(c, &now->drive[rail], &next->drive[rail]);
    if (as_many)
        compare_holders(c, rail, n, now, next);
    snprintf(c->place, sizeof c->place, "rail %u: ", rail + 1u);
    if (!c->without_simulated && now->positioner == KR_POSITIONER_SIMULATED &&
        next->positioner == KR_POSITIONER_SIMULATED)
        compare_simulated(c, rail, now, next);
}

/* The widths of the bodies belong to the simulated machine. */
static void compare_size(struct comparison *c, uint16_t index, struct kr_config_station *now,
                         const struct kr_config_station *next)
{
    struct size_settings was, is;
    kr_size_view(now, index, &was);
    kr_size_view(next, index, &is);
    if (c->without_simulated || now->positioner != KR_POSITIONER_SIMULATED)
        is.body_um = was.body_um;
    snprintf(c->place, sizeof c->place, "size %u: ", index + 1u);
    compare_rows(c, &kr_size_table, &was, &is);
    c->place[0] = '\0';
    kr_size_lay(&was, index, now);
}

static void compare_sizes(struct comparison *c, struct kr_config_station *now, const struct kr_config_station *next)
{
    uint16_t n = now->station.geometry.n_sizes;
    bool as_many = n == next->station.geometry.n_sizes;
    compare_inner(c, &kr_station_table, "sizes", as_many);
    for (uint16_t i = 0; as_many && i < n; i++)
        compare_size(c, i, now, next);
}

static bool same_knife_kinds(const struct kr_station_config *a, const struct kr_station_config *b)
{
    bool alike = a->n_knife_limits == b->n_knife_limits;
    for (uint16_t i = 0; alike && i < a->n_knife_limits; i++)
        for (size_t k = 0; k < kr_knife_kind_table.n; k++)
            alike = alike && same(&kr_knife_kind_table.row[k], &a->knife_limit[i], &b->knife_limit[i]);
    return alike;
}

static void compare_knife_kinds(struct comparison *c, struct kr_station_config *now,
                                const struct kr_station_config *next)
{
    if (!compare_inner(c, &kr_station_table, "knife_kinds", same_knife_kinds(now, next)))
        return;
    now->n_knife_limits = next->n_knife_limits;
    memcpy(now->knife_limit, next->knife_limit, sizeof now->knife_limit);
}

static void compare_station(struct comparison *c, struct kr_config_station *now, const struct kr_config_station *next)
{
    static const struct kr_table *const tables[] = {&kr_station_table, &kr_web_table,         &kr_placement_table,
                                                    &kr_idle_table,    &kr_permissives_table, &kr_acceptance_table};
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
        compare_rows(c, tables[i], now, next);
    uint16_t n = now->station.geometry.n_rails, n_next = next->station.geometry.n_rails;
    compare_sizes(c, now, next);
    compare_knife_kinds(c, &now->station, &next->station);
    compare_inner(c, &kr_station_table, "drive", now->has_drives == next->has_drives);
    compare_inner(c, &kr_station_table, "rails", n == n_next);
    for (uint16_t r = 0; r < n && r < n_next; r++)
        compare_rail(c, r, now, next);
}

static void note_restart(void *self, const struct kr_config_difference *difference)
{
    bool *restart = self;
    *restart = *restart || difference->change == KR_CHANGE_RESTART;
}

/* The file's geometry was checked together with its rails, roles, holders and drives, and waits with them for the
 * restart. The settings of the simulated machine follow from the geometry, and do not make it wait. */
static bool needs_restart(struct kr_config_station *now, const struct kr_config_station *next)
{
    bool restart = false;
    struct comparison c = {.most = KR_CHANGE_NONE, .listener = {note_restart, &restart}, .without_simulated = true};
    compare_station(&c, now, next);
    return restart;
}

enum kr_change kr_config_take(struct kr_config_station *now, const struct kr_config_station *next, enum kr_change most,
                              struct kr_config_listener listener)
{
    struct comparison c = {.most = most, .listener = listener, .restart = needs_restart(now, next)};
    compare_station(&c, now, next);
    return c.strongest;
}

/* ---- every setting ----------------------------------------------------------------------------------------------- */

/* A text to compare lists: the number of entries, and a checksum over their content. */
struct list_sum {
    unsigned n;
    uLong sum;
};

__attribute__((format(printf, 2, 3))) static void add_entry(struct list_sum *list, const char *format, ...)
{
    char text[160];
    va_list values;
    va_start(values, format);
    int n = vsnprintf(text, sizeof text, format, values);
    va_end(values);
    list->n++;
    list->sum = crc32(list->sum, (const Bytef *)text, (uInt)(n < (int)sizeof text ? n : (int)sizeof text - 1));
}

static void tell_list(struct comparison *c, const struct kr_table *table, const char *name, const struct list_sum *list)
{
    struct kr_config_difference difference = {.was = ""};
    snprintf(difference.is, sizeof difference.is, "%u entries, sum %08lX", list->n, list->sum);
    told(c, table, row_named(table, name), &difference);
}

static void tell_rail_lists(struct comparison *c, const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_carriage_config *carriage = &s->station.carriage[rail];
    const struct kr_drive *drive = &s->drive[rail];
    struct list_sum expected = {0}, points = {0}, references = {0}, holders = {0};
    for (uint16_t i = 0; s->has_drives && i < drive->n_expected; i++) {
        const struct kr_expected *e = &drive->expected[i];
        add_entry(&expected, "%s %u %u %u %lu %lu;", e->name, e->address, e->words, e->is_signed,
                  (unsigned long)e->value, (unsigned long)e->mask);
    }
    for (uint16_t i = 0; i < carriage->frame.n_points; i++)
        add_entry(&points, "%ld %ld;", (long)carriage->frame.point[i].at_um, (long)carriage->frame.point[i].error_um);
    for (uint16_t i = 0; i < carriage->references.n; i++)
        add_entry(&references, "%ld %ld;", (long)carriage->references.flag[i].at_um,
                  (long)carriage->references.flag[i].width_um);
    for (uint16_t i = 0; i < s->station.geometry.rail[rail].n_holders; i++)
        add_entry(&holders, "%u %u;", s->holder[rail][i].holder_size, s->holder[rail][i].state);
    snprintf(c->place, sizeof c->place, "rail %u: ", rail + 1u);
    tell_list(c, &kr_drive_table, "expected", &expected);
    tell_list(c, &kr_frame_table, "table", &points);
    tell_list(c, &kr_frame_table, "references", &references);
    tell_list(c, &kr_rail_table, "holders", &holders);
}

void kr_config_tell_settings(struct kr_config_station *station, struct kr_config_listener listener)
{
    struct comparison c = {.most = KR_CHANGE_NONE, .listener = listener, .all = true};
    compare_station(&c, station, station);
    for (uint16_t r = 0; r < station->station.geometry.n_rails; r++)
        tell_rail_lists(&c, station, r);
}

/* ---- the book against the file --------------------------------------------------------------------------------- */

/* Compares the settings with which the file fills a new book, and which the book keeps then: the rows marked SEED of
 * holders, frames, switches and planned times. A place also comes from the file, but is not a setting any more once the
 * holder was moved. */
static void compare_seeds(struct comparison *c, const struct kr_config_station *file,
                          const struct kr_holder_data *in_book, const struct kr_holder_data *in_file)
{
    struct holder_settings was, is;
    kr_holder_view(file, in_book, &was);
    kr_holder_view(file, in_file, &is);
    is.first_um = was.first_um;
    for (size_t i = 0; i < kr_holder_table.n; i++)
        if (kr_holder_table.row[i].change == KR_CHANGE_SEED)
            compare_row(c, &kr_holder_table, &kr_holder_table.row[i], &was, &is);
}

/* Compares the file's frame with the book's. The references always come from the file, so they are the same on both
 * sides. */
static void compare_seeded_frame(struct comparison *c, const struct kr_config_station *file, uint16_t rail,
                                 const struct kr_frame *in_book)
{
    struct rail_settings was, is;
    kr_rail_view(file, rail, &is);
    was = is;
    was.carriage.frame = *in_book;
    compare_rows(c, &kr_frame_table, &was, &is);
    if (same_points(in_book, &is.carriage.frame))
        return;
    struct kr_config_difference difference;
    snprintf(difference.was, sizeof difference.was, "one of %u points", in_book->n_points);
    snprintf(difference.is, sizeof difference.is, "another of %u points", is.carriage.frame.n_points);
    told(c, &kr_frame_table, row_named(&kr_frame_table, "table"), &difference);
}

static void compare_seeded_switch(struct comparison *c, const struct kr_config_station *file, uint16_t rail,
                                  const struct kr_switch *in_book)
{
    struct rail_settings was, is;
    kr_rail_view(file, rail, &is);
    was = is;
    was.carriage.switch_offset_um = in_book->offset_um;
    was.carriage.scan_bias_um = in_book->bias_um;
    compare_rows(c, &kr_carriage_table, &was, &is);
}

static void compare_seeded_times(struct comparison *c, const struct kr_config_station *file, uint16_t rail,
                                 const struct kr_rail_times *in_book)
{
    struct rail_settings was, is;
    kr_rail_view(file, rail, &is);
    was = is;
    was.geometry.dock_us = in_book->dock_us;
    was.geometry.undock_us = in_book->undock_us;
    was.geometry.setpoint_us = in_book->setpoint_us;
    was.geometry.rounding_us = in_book->rounding_us;
    compare_rows(c, &kr_carriage_table, &was, &is);
}

void kr_config_against_book(const struct kr_config_station *file, const struct kr_durable *book,
                            struct kr_config_listener listener)
{
    struct comparison c = {.most = KR_CHANGE_NONE, .listener = listener};
    for (uint16_t r = 0; r < file->station.geometry.n_rails; r++) {
        snprintf(c.place, sizeof c.place, "rail %u: ", r + 1u);
        if (book->frame_origin[r] != KR_FRAME_FROM_NONE)
            compare_seeded_frame(&c, file, r, &book->frame[r]);
        if (book->switch_origin[r] != KR_FRAME_FROM_NONE)
            compare_seeded_switch(&c, file, r, &book->of_switch[r]);
        if (book->times_origin[r] != KR_FRAME_FROM_NONE)
            compare_seeded_times(&c, file, r, &book->times[r]);
        for (uint16_t h = 0; h < file->station.geometry.rail[r].n_holders; h++) {
            snprintf(c.place, sizeof c.place, "rail %u, holder %u: ", r + 1u, h + 1u);
            compare_seeds(&c, file, &book->holder[r][h], &file->holder[r][h]);
        }
    }
}
