/* Completes and checks the settings of the drives over Modbus. */
#include <string.h>

#include "reading.h"

/* ---- reading ------------------------------------------------------------------------------------------- */

static void read_inner(struct kr_group *group, struct kr_config_errors *errors, const struct kr_table *table,
                       const config_setting_t *at, const char *name, struct drive_settings *settings)
{
    const config_setting_t *drive = config_setting_get_member(at, "drive");
    kr_group_read(group, errors, table, drive && config_setting_is_group(drive) ? drive : at, name, settings);
}

static const config_setting_t *expected_at(const struct drive_reading *reading)
{
    return kr_group_good(&reading->group, "expected") ? kr_group_at(&reading->group, "expected") : NULL;
}

/* Reads the list of the rail itself. The station's list was read already. */
static void read_expected(struct drive_reading *reading, struct kr_config_errors *errors,
                          const struct drive_reading *common)
{
    const config_setting_t *list = expected_at(reading);
    reading->expected_good = true;
    if (common && list && list == expected_at(common)) {
        memcpy(reading->settings.drive.expected, common->settings.drive.expected,
               sizeof reading->settings.drive.expected);
        reading->settings.drive.n_expected = common->settings.drive.n_expected;
        reading->expected_good = common->expected_good;
    } else if (list) {
        reading->expected_good = kr_expected_read(errors, list, &reading->settings.drive);
    }
}

void kr_drive_read(struct drive_reading *reading, struct kr_config_errors *errors, const config_setting_t *at,
                   const struct drive_reading *common)
{
    struct drive_settings *settings = &reading->settings;
    memset(settings, 0, sizeof *settings);
    kr_group_read(&reading->group, errors, &kr_drive_table, at, "drive", settings);
    read_inner(&reading->registers, errors, &kr_registers_table, at, "registers", settings);
    read_inner(&reading->outputs, errors, &kr_outputs_table, at, "outputs", settings);
    read_inner(&reading->inputs, errors, &kr_inputs_table, at, "inputs", settings);
    if (common) {
        kr_group_inherit(&reading->group, &common->group);
        kr_group_inherit(&reading->registers, &common->registers);
        kr_group_inherit(&reading->outputs, &common->outputs);
        kr_group_inherit(&reading->inputs, &common->inputs);
    }
    read_expected(reading, errors, common);
}

/* ---- completing ---------------------------------------------------------------------------------------- */

static const char parities[] = {'N', 'E', 'O'}; /* in the order of their words */

static void complete(const struct drive_settings *settings, struct kr_drive *drive)
{
    *drive = settings->drive;
    drive->link.parity = parities[settings->parity_word];
    drive->map.position.um = settings->position_um;
    drive->map.speed.um = settings->speed_um_per_s;
    drive->map.accel.um = settings->accel_um_per_s2;
    drive->map.inverted_outputs = settings->inverted_outputs;
    drive->map.inverted_inputs = settings->inverted_inputs;
}

void kr_drive_view(const struct kr_drive *drive, struct drive_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    settings->drive = *drive;
    settings->position_um = drive->map.position.um;
    settings->speed_um_per_s = drive->map.speed.um;
    settings->accel_um_per_s2 = drive->map.accel.um;
    while (settings->parity_word + 1 < (int)sizeof parities && parities[settings->parity_word] != drive->link.parity)
        settings->parity_word++;
    settings->inverted_outputs = drive->map.inverted_outputs;
    settings->inverted_inputs = drive->map.inverted_inputs;
}

/* ---- checks -------------------------------------------------------------------------------------------- */

static void missing(struct drive_reading *reading, const char *name, const char *line)
{
    if (kr_group_good(&reading->group, name) && !kr_group_at(&reading->group, name))
        kr_group_mistake(&reading->group, name, "a drive on %s needs it", line);
}

static void check_baud(struct drive_reading *reading)
{
#define X(baud) (baud),
    static const int32_t known[] = {KR_BAUDS(X)};
#undef X
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (reading->settings.drive.link.baud == known[i])
            return;
#define X(baud) " " #baud
    if (kr_group_good(&reading->group, "baud"))
        kr_group_mistake(&reading->group, "baud", "a serial line can't be set to this rate; possible are" KR_BAUDS(X));
#undef X
}

static void check_link(struct drive_reading *reading)
{
    const struct kr_drive_link *link = &reading->settings.drive.link;
    struct kr_prefix prefix;
    if (link->serial) {
        missing(reading, "device", "a serial line");
        check_baud(reading);
        if (link->unit_id < 1 || link->unit_id > 247)
            kr_group_mistake(&reading->group, "unit_id", "only 1 to 247 is possible on a serial line");
        return;
    }
    missing(reading, "address", "Modbus/TCP");
    if (kr_group_good(&reading->group, "address") && kr_group_at(&reading->group, "address") &&
        (strchr(link->address, '/') || !kr_prefix_from_text(link->address, &prefix)))
        kr_group_mistake(&reading->group, "address", "this is not an IPv4 or IPv6 address");
}

static void check_watchdog(struct drive_reading *reading)
{
    const struct kr_drive *drive = &reading->settings.drive;
    if (drive->watchdog == KR_WATCHDOG_READ && drive->map.address[KR_OBJECT_WATCHDOG] == KR_NO_REGISTER)
        kr_group_mistake(&reading->group, "watchdog",
                         "registers.watchdog is -1: without a register, the watchdog has to be proven");
}

/* Returns how long all tries of one transfer take in the worst case. */
static int32_t given_up_ms(const struct kr_drive_link *link)
{
    return link->serial ? (link->retries + 1) * link->answer_ms : link->lost_ms;
}

/* A drive that is only slow is stopped by the gateway before its own watchdog stops it. A drive whose link is lost has
 * been stopped by its watchdog. */
static void check_silence(struct drive_reading *reading)
{
    const struct kr_drive *drive = &reading->settings.drive;
    const struct kr_drive_link *link = &drive->link;
    struct kr_group *group = &reading->group;
    int32_t lost_ms = given_up_ms(link);
    if (!link->serial && link->lost_ms <= link->stop_ms)
        kr_group_at_least(group, "lost_ms", link->stop_ms + 1, "more than stop_ms");
    if (drive->watchdog_ms == 0)
        return;
    if (drive->watchdog_ms <= link->stop_ms)
        kr_group_at_least(group, "watchdog_ms", link->stop_ms + 1, "more than stop_ms");
    if (!link->serial && drive->watchdog_ms >= lost_ms)
        kr_group_at_most(group, "watchdog_ms", lost_ms - 1, "less than lost_ms");
    if (link->serial && lost_ms >= drive->watchdog_ms)
        kr_group_mistake(group, "retries",
                         "%d further tries of %d ms last %d ms, and outlast the drive's watchdog of %d ms",
                         (int)link->retries, (int)link->answer_ms, (int)lost_ms, (int)drive->watchdog_ms);
}

static void check_map(struct drive_reading *reading, const struct kr_drive *drive)
{
    struct kr_drivemap_mistake m = kr_drivemap_check(&drive->map);
    if (!m.what)
        return;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(reading->group.home, reading->group.member, path);
    if (m.other)
        kr_mistake(reading->group.errors, reading->group.home, path, "%s is %d, which %s has, too", m.what, m.value,
                   m.other);
    else
        kr_mistake(reading->group.errors, reading->group.home, path, "%s is %d; allowed: %d to %d", m.what, m.value,
                   m.least, m.most);
}

/* If references have their own switch, the drive's second touch probe sees them, and its input shows the level. */
static void check_second_probe(struct rail_reading *rail, const struct kr_drive *drive)
{
    static const enum kr_object needed[] = {KR_OBJECT_PROBE_2_RISE, KR_OBJECT_PROBE_2_FALL};
    if (!rail->settings.carriage.references.own_switch)
        return;
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (drive->map.address[needed[i]] == KR_NO_REGISTER)
            kr_group_mistake(&rail->drive.registers, kr_object_info(needed[i])->setting,
                             "the rail's references have a switch of their own (reference_switch), which is read by "
                             "the drive's touch probe 2");
    if (drive->map.input_bit[KR_DI_BIT_REFERENCE] == KR_NO_BIT)
        kr_group_mistake(
            &rail->drive.inputs, "reference",
            "the rail's references have a switch of their own (reference_switch), whose level has to be read, too");
}

/* A mistake in the station's list is reported once, with the first rail that uses it. */
static void check_expected(struct station_reading *r, uint16_t rail)
{
    const config_setting_t *list = expected_at(&r->rail[rail].drive);
    bool told = !list || !r->rail[rail].drive.expected_good;
    for (uint16_t k = 0; k < rail; k++)
        told = told || expected_at(&r->rail[k].drive) == list;
    if (!told)
        kr_expected_check(r->errors, list, &r->out->drive[rail]);
}

/* The drive's 32-bit values must be able to represent every position of the carriage and every speed. */
static void check_range(struct rail_reading *rail, const struct kr_drive *drive)
{
    const struct kr_carriage_config *c = &rail->settings.carriage;
    const struct kr_rail_geometry *g = &rail->settings.geometry;
    struct kr_group *group = &rail->drive.group;
    int64_t low_um = c->travel_min_um < 0 ? -(int64_t)c->travel_min_um : c->travel_min_um;
    int64_t furthest_um = c->travel_max_um > low_um ? c->travel_max_um : low_um;
    int32_t accel = g->empty.a_um_per_s2 > g->drag.a_um_per_s2 ? g->empty.a_um_per_s2 : g->drag.a_um_per_s2;
    int32_t speed = g->empty.v_um_per_s > g->drag.v_um_per_s ? g->empty.v_um_per_s : g->drag.v_um_per_s;
    const struct {
        const char *name;
        int64_t most;
        struct kr_drive_ratio ratio;
    } row[] = {{"position_units", furthest_um, drive->map.position},
               {"speed_units", speed, drive->map.speed},
               {"accel_units", accel, drive->map.accel}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (row[i].ratio.um > 0 && row[i].most * row[i].ratio.units / row[i].ratio.um > INT32_MAX)
            kr_group_mistake(group, row[i].name, "the carriage's largest value doesn't fit 32 bits in this unit");
}

/* A line has one setup for all of its drives. */
static void check_line(struct kr_group *group, const struct kr_drive_link *link, const struct kr_drive_link *other,
                       int other_rail)
{
    const struct {
        const char *name;
        bool same;
    } row[] = {{"answer_ms", !link->serial || link->answer_ms == other->answer_ms},
               {"baud", !link->serial || link->baud == other->baud},
               {"parity", !link->serial || link->parity == other->parity},
               {"stop_bits", !link->serial || link->stop_bits == other->stop_bits},
               {"retries", !link->serial || link->retries == other->retries}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (!row[i].same)
            kr_group_mistake(group, row[i].name, "the drive of rail %d on the same line has another one", other_rail);
}

static void check_shared(struct station_reading *r, uint16_t rail)
{
    const struct kr_drive_link *link = &r->out->drive[rail].link;
    for (uint16_t k = 0; k < rail; k++) {
        const struct kr_drive_link *other = &r->out->drive[k].link;
        if (!kr_drive_same_link(link, other) || (link->serial ? link->device : link->address)[0] == '\0')
            continue; /* it was already reported that the line is not named */
        if (link->unit_id == other->unit_id)
            kr_group_mistake(&r->rail[rail].drive.group, "unit_id",
                             "the drive of rail %d on the same line has the same one", k + 1);
        check_line(&r->rail[rail].drive.group, link, other, k + 1);
    }
}

static bool all_good(const struct drive_reading *d)
{
    const struct kr_group *groups[] = {&d->group, &d->registers, &d->outputs, &d->inputs};
    for (size_t g = 0; g < 4; g++)
        for (size_t i = 0; i < groups[g]->table->n; i++)
            if (groups[g]->bad[i])
                return false;
    return true;
}

/* ---- a serial line's time ------------------------------------------------------------------------------ */

/* All drives of the line are asked in turn, so a scan can see one edge of a flag in this time. */
static void check_line_time(struct station_reading *r, uint16_t rail)
{
    const struct kr_drive *drive = &r->out->drive[rail];
    const struct rail_settings *settings = &r->rail[rail].settings;
    struct kr_group *group = &r->rail[rail].drive.group;
    int64_t own_us = kr_drive_exchange_us(drive), all_us = 0, flag_us = 0;
    for (uint16_t k = 0; k < r->n_rails; k++)
        if (kr_drive_same_link(&r->out->drive[k].link, &drive->link))
            all_us += kr_drive_exchange_us(&r->out->drive[k]);
    if (settings->carriage.scan_speed_um_per_s > 0)
        flag_us = 1000000LL * settings->carriage.flag_width_um / settings->carriage.scan_speed_um_per_s;
    if (own_us >= 1000LL * drive->link.answer_ms)
        kr_group_mistake(group, "baud", "a question and its answer take %d ms; answer_ms waits for %d ms",
                         (int)(own_us / 1000), (int)drive->link.answer_ms);
    else if (flag_us > 0 && all_us > flag_us)
        kr_group_mistake(group, "baud",
                         "to ask all drives of the line takes %d ms, and a scan passes a flag in %d ms: a quicker "
                         "line, or a slower scan",
                         (int)(all_us / 1000), (int)(flag_us / 1000));
}

static void check_lines(struct station_reading *r)
{
    for (uint16_t i = 0; i < r->n_rails; i++)
        if (r->out->drive[i].link.serial && r->out->drive[i].link.baud > 0 && all_good(&r->rail[i].drive) &&
            kr_group_good(&r->rail[i].carriage, "flag_width_mm") &&
            kr_group_good(&r->rail[i].carriage, "scan_speed_mm_per_s"))
            check_line_time(r, i);
}

/* Each station controls its drives independently. Two masters on one serial line would garble each other's frames, and
 * a drive can obey only one. */
void kr_drives_apart(struct station_reading *a, const struct station_reading *b)
{
    if (!a->out->has_drives || !b->out->has_drives || a->out->positioner != KR_POSITIONER_MODBUS ||
        b->out->positioner != KR_POSITIONER_MODBUS)
        return;
    for (uint16_t i = 0; i < a->n_rails; i++)
        for (uint16_t k = 0; k < b->n_rails; k++) {
            const struct kr_drive_link *link = &a->out->drive[i].link, *other = &b->out->drive[k].link;
            if (kr_drive_same_link(link, other) && (link->serial || link->unit_id == other->unit_id))
                kr_group_mistake(&a->rail[i].drive.group, link->serial ? "device" : "unit_id",
                                 "rail %d of station %s has %s, too", k + 1, b->out->station.name,
                                 link->serial ? "this line" : "this drive");
        }
}

static bool given(const struct drive_reading *d)
{
    return d->group.member == NULL;
}

static bool wanted(const struct station_reading *r)
{
    bool any = r->out->positioner == KR_POSITIONER_MODBUS || given(&r->drive);
    for (uint16_t i = 0; i < r->n_rails; i++)
        any = any || given(&r->rail[i].drive);
    return any;
}

void kr_drives_make(struct station_reading *r)
{
    if (!wanted(r))
        return;
    for (uint16_t i = 0; i < r->n_rails; i++) {
        struct rail_reading *rail = &r->rail[i];
        struct kr_drive *drive = &r->out->drive[i];
        complete(&rail->drive.settings, drive);
        if (!all_good(&rail->drive))
            continue;
        check_link(&rail->drive);
        check_watchdog(&rail->drive);
        check_silence(&rail->drive);
        check_map(&rail->drive, drive);
        check_second_probe(rail, drive);
        check_range(rail, drive);
        check_expected(r, i);
        check_shared(r, i);
    }
    check_lines(r);
    r->out->has_drives = true;
}
