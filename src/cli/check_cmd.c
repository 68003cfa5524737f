/* kniferail check: reads a config as the daemon does, and prints its mistakes, or what it means. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "check_book.h"
#include "check_notes.h"
#include "cli.h"
#include "kniferail/config.h"

static void print_mistakes(const struct kr_config_errors *errors)
{
    for (uint16_t i = 0; i < errors->count; i++)
        fprintf(stderr, "%s\n", errors->message[i]);
    unsigned long all = errors->count + (unsigned long)errors->lost;
    fprintf(stderr, "%lu mistake%s", all, all == 1 ? "" : "s");
    if (errors->lost)
        fprintf(stderr, ", the first %u are shown", errors->count);
    fprintf(stderr, "\n");
}

bool kr_read_config(const char *path, struct kr_config *config)
{
    static struct kr_config_errors errors;
    bool good = kr_config_read(path, config, &errors);
    if (!good)
        print_mistakes(&errors);
    return good;
}

static const char *length(int32_t um, enum kr_length_unit unit)
{
    static char text[8][32]; /* more than one line prints */
    static unsigned next;
    char *to = text[next++ % 8];
    kr_length_text(um, unit, to, sizeof text[0]);
    return to;
}

static void print_permissives(const char *what, uint16_t mask)
{
    static const char *const names[] = {
#define X(name, bit, text) [bit] = #name,
        KR_PERMISSIVES(X)
#undef X
    };
    printf("    %-13s", what);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (mask >> i & 1)
            printf(" %s", names[i]);
    printf("%s\n", mask ? "" : " none");
}

/* `12 holders (10 "2 in", 2 "3 in"; 11 in service, 1 out, 0 fixed, 0 absent)` */
static void print_holders(const struct kr_station_config *c, const struct kr_holder_data *holder, uint16_t n)
{
    unsigned of_size[KR_SIZES_MAX + 1] = {0}, of_state[4] = {0}, unknown = 0;
    for (uint16_t i = 0; i < n; i++) {
        of_size[holder[i].holder_size]++;
        of_state[holder[i].state]++;
        unknown += holder[i].state != KR_HOLDER_ABSENT && holder[i].known == KR_UNKNOWN;
    }
    printf("%u holder%s (", n, n == 1 ? "" : "s");
    const char *comma = "";
    for (uint16_t size = 1; size <= c->geometry.n_sizes; size++) {
        if (of_size[size])
            printf("%s%u \"%s\"", comma, of_size[size], c->size_name[size - 1]);
        comma = of_size[size] ? ", " : comma;
    }
    printf("; %u in service, %u out, %u fixed, %u absent)", of_state[KR_HOLDER_IN], of_state[KR_HOLDER_OUT],
           of_state[KR_HOLDER_FIXED], of_state[KR_HOLDER_ABSENT]);
    if (unknown)
        printf(", %u of unknown place", unknown);
}

static void print_blades(const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_geometry *g = &s->station.geometry;
    enum kr_length_unit unit = s->station.format.length_unit;
    if (g->rail[rail].cut_side_um == 0)
        return;
    printf("        side clearance %s, blades' run-out %s, side stroke ", length(g->rail[rail].cut_side_um, unit),
           length(s->blade[rail].run_out_um, unit));
    printf("%s\n", s->blade[rail].side_stroke_um > 0 ? length(s->blade[rail].side_stroke_um, unit) : "not given");
}

static void print_frame(const struct kr_frame *frame, enum kr_length_unit unit)
{
    if (frame->offset_um || frame->scale_ppb || frame->n_points)
        printf("        frame: offset %s, scale %.3f ppm, %u points of error\n", length(frame->offset_um, unit),
               frame->scale_ppb / 1e3, frame->n_points);
}

static void print_references(const struct kr_references *references, enum kr_length_unit unit)
{
    if (references->n == 0)
        return;
    printf("        references:");
    for (uint16_t i = 0; i < references->n; i++)
        printf("%s %s", i ? "," : "", length(references->flag[i].at_um, unit));
    printf("; they may be off by up to %s, and by %s from scan to scan\n", length(references->window_um, unit),
           length(references->step_um, unit));
    if (references->own_switch)
        printf("        they are seen by a switch of their own, %s from the pin\n",
               length(references->switch_offset_um, unit));
    if (references->n == 1)
        printf("        one reference shows neither scale nor pattern, so that a warmer rail and exchanged drives are "
               "not noticed\n");
}

static void print_scans(const struct kr_carriage_config *carriage)
{
    if (carriage->scan_fast_um_per_s > 0)
        printf("        scans go at %.3f m/s between flags whose places are known\n",
               carriage->scan_fast_um_per_s / 1e6);
    if (carriage->scan_ways == KR_SCAN_ONE_WAY)
        printf("        scans go one way once the scan bias is known (job 11)\n");
}

static void print_rail(const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_station_config *c = &s->station;
    const struct kr_rail_geometry *g = &c->geometry.rail[rail];
    const struct kr_carriage_config *carriage = &c->carriage[rail];
    enum kr_length_unit unit = c->format.length_unit;
    printf("    rail %u %s: ", rail + 1u, kr_number_word("RAIL_ROLE", (int)g->role));
    print_holders(c, s->holder[rail], g->n_holders);
    printf("\n        centres from %s to %s; the carriage goes from %s to %s and parks at %s\n",
           length(g->min_um, unit), length(g->max_um, unit), length(carriage->travel_min_um, unit),
           length(carriage->travel_max_um, unit), length(carriage->park_um, unit));
    printf("        speeds: empty %.3f m/s, dragging %.3f m/s, scanning %.3f m/s; docking takes %.2f s, undocking %.2f "
           "s; %s\n",
           g->empty.v_um_per_s / 1e6, g->drag.v_um_per_s / 1e6, carriage->scan_speed_um_per_s / 1e6, g->dock_us / 1e6,
           g->undock_us / 1e6, carriage->clamping == KR_CLAMP_COMMON ? "common clamp" : "brakes");
    print_scans(carriage);
    print_frame(&carriage->frame, unit);
    print_references(&carriage->references, unit);
    print_blades(s, rail);
}

static bool all_have_references(const struct kr_station_config *c)
{
    for (uint16_t r = 0; r < c->geometry.n_rails; r++)
        if (c->carriage[r].references.n == 0)
            return false;
    return true;
}

/* Without references, everything is measured by the rails' own drives and switches. */
static void print_unnoticed(const struct kr_station_config *c)
{
    if (all_have_references(c))
        return;
    printf(
        "    Without references on the frame nobody notices a datum, a scale or a switch that was wrong before the\n"
        "        first scan; one that changed while fewer than two holders of the rail (three for a scale), or no\n"
        "        more than half of those that the carriage had not dragged, stood where the last scan had found them;\n"
        "        and one that changes by less than alike_mm from scan to scan. A rail that gets warmer than the frame "
        "changes\n"
        "        its scale; drives that are exchanged change both datums.\n");
}

static void print_sizes(const struct kr_station_config *c)
{
    printf("    sizes:");
    for (uint16_t i = 0; i < c->geometry.n_sizes; i++)
        printf("%s %u \"%s\" %s", i ? "," : "", i + 1u, c->size_name[i],
               length(c->geometry.size_spacing_um[i], c->format.length_unit));
    printf(" from centre to centre\n");
}

/* Returns v t + v^2 / (2 a): the distance that a carriage travels until it is told to stop and stands. */
static int32_t way_um(struct kr_speed speed, int32_t ms)
{
    int64_t v = speed.v_um_per_s, a = speed.a_um_per_s2;
    return (int32_t)(v * ms / 1000 + v * v / (2 * a));
}

/* Returns the longest time that the gateway waits for an answer before it counts the drive as lost. */
static int32_t given_up_ms(const struct kr_drive_link *link)
{
    return link->serial ? (link->retries + 1) * link->answer_ms : link->lost_ms;
}

/* This is the time on the line, without the drive's own processing time. */
static void print_line_time(const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_drive *drive = &s->drive[rail];
    int64_t all_us = 0;
    if (!drive->link.serial)
        return;
    for (uint16_t k = 0; k < s->station.geometry.n_rails; k++)
        if (kr_drive_same_link(&s->drive[k].link, &drive->link))
            all_us += kr_drive_exchange_us(&s->drive[k]);
    printf("        its line runs at %d bits a second: an exchange takes %.1f ms, and all drives of the line take %.1f "
           "ms\n",
           drive->link.baud, (double)kr_drive_exchange_us(drive) / 1000, (double)all_us / 1000);
}

static void print_silence(const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_drive_link *link = &s->drive[rail].link;
    const struct kr_rail_geometry *g = &s->station.geometry.rail[rail];
    enum kr_length_unit unit = s->station.format.length_unit;
    int32_t lost_ms = given_up_ms(link);
    printf("        once the newest answer is %d ms old, motion stops: the carriage goes on for %s empty and\n"
           "        %s dragging, its ramp included. After %d ms without an answer the drive counts as lost (%s and\n"
           "        %s). Its own watchdog has to be longer than %d ms%s",
           link->stop_ms, length(way_um(g->empty, link->stop_ms), unit), length(way_um(g->drag, link->stop_ms), unit),
           lost_ms, length(way_um(g->empty, lost_ms), unit), length(way_um(g->drag, lost_ms), unit), link->stop_ms,
           link->serial ? "" : " and");
    if (link->serial)
        printf(", and so long that %d tries of %d ms do not outlast it\n", link->retries + 1, link->answer_ms);
    else
        printf(" shorter than %d ms\n", lost_ms);
}

static void print_watchdog(const struct kr_config_station *s, uint16_t rail)
{
    const struct kr_rail_geometry *g = &s->station.geometry.rail[rail];
    enum kr_length_unit unit = s->station.format.length_unit;
    int32_t watchdog_ms = s->drive[rail].watchdog_ms;
    if (watchdog_ms == 0)
        printf("        watchdog_ms does not give the time of the drive's own watchdog, so that nothing is compared "
               "with it\n");
    else
        printf("        by watchdog_ms the drive's own watchdog is set to %d ms, which lies between these limits: "
               "without a link a\n"
               "        carriage goes on for %s empty and %s dragging, if it then stops as fast as it starts\n",
               watchdog_ms, length(way_um(g->empty, watchdog_ms), unit), length(way_um(g->drag, watchdog_ms), unit));
}

/* Returns the number, from 1, of the expected parameter that has this name, in letters of either case; 0: there is
 * none. */
static uint16_t expected_named(const struct kr_drive *drive, const char *name)
{
    for (uint16_t i = 0; i < drive->n_expected; i++)
        if (strcasecmp(drive->expected[i].name, name) == 0)
            return (uint16_t)(i + 1);
    return 0;
}

static void print_own_setting(const struct kr_drive *drive, const char *name, const char *says)
{
    uint16_t parameter = expected_named(drive, name);
    if (parameter > 0)
        printf("        the drive's own setting, which parameter %u of `expected` has to show: %s %s\n", parameter,
               name, says);
    else
        printf("        the drive's own setting, to be confirmed: %s %s\n", name, says);
}

/* Settings of the drive that this program can't make are the task of the people who commission the drive. */
static void print_own_settings(const struct kr_drive *drive)
{
    const struct {
        enum kr_object object;
        const char *name, *says;
    } row[] = {
        {KR_OBJECT_HOMING_METHOD, "homing method", "(6098h): whether homing looks for a mark"},
        {KR_OBJECT_HOMING_SPEED, "homing speed", "(6099h): it should be at most setup_speed_mm_per_s"},
        {KR_OBJECT_TORQUE_LIMIT, "torque limit", "(6072h): it limits the force of the carriage"},
    };
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (drive->map.address[row[i].object] == KR_NO_REGISTER)
            print_own_setting(drive, row[i].name, row[i].says);
    if (drive->map.referenced_bit == KR_NO_BIT)
        printf("        referenced_bit is -1: the position always counts as having its datum, even if the drive has "
               "lost it\n");
}

static void print_expected(const struct kr_drive *drive)
{
    for (uint16_t i = 0; i < drive->n_expected; i++) {
        const struct kr_expected *e = &drive->expected[i];
        printf("        parameter %u \"%s\": register %u has to show %" PRId32, i + 1u, e->name, (unsigned)e->address,
               kr_expected_shown(e, e->value));
        if (e->mask != (e->words == 1 ? UINT16_MAX : UINT32_MAX))
            printf(" in the bits %" PRIX32 "h", e->mask);
        printf("\n");
    }
}

static void print_station(const struct kr_config_station *s)
{
    const struct kr_station_config *c = &s->station;
    const struct kr_geometry *g = &c->geometry;
    enum kr_length_unit unit = c->format.length_unit;
    static const char *const cuts[] = {
#define X(name, word) [KR_CUT_##name] = (word),
        KR_CUT_KINDS(X)
#undef X
    };
    printf("station %s: unit identifier %u, lengths in %s, %s word first, positioner: %s\n", c->name, s->unit_id,
           unit == KR_LENGTH_INCH ? "0.0001 in" : "0.001 mm", c->format.low_word_first ? "low" : "high",
           s->positioner == KR_POSITIONER_MODBUS ? "drives over Modbus" : "simulated machine");
    printf("    cut: %s; web up to %s, centre at %s; ", cuts[s->cut], length(kr_um_from_nm(g->web_max_nm), unit),
           length(g->web_centre_um, unit));
    printf("trims %s to %s\n", length(kr_um_from_nm(g->trim_min_nm), unit),
           length(kr_um_from_nm(g->trim_max_nm), unit));
    printf("    tolerance: knife %s, pair %s, slit %s; ", length(g->tolerance_um, unit),
           length(c->pair_window_um, unit), length(c->slit_tolerance_um, unit));
    printf("deadband %s\n", length(c->deadband_um, unit));
    print_sizes(c);
    if (c->carriage[0].expansion_ppb != 0)
        printf("    frame: %.3f ppm a kelvin, by FRAME_TEMPERATURE against 20 C\n", c->carriage[0].expansion_ppb / 1e3);
    printf("    heartbeat: motion stops when it stands still for %d ms, control is lost after %d ms; it has to change "
           "at\n        least every %d ms. Where HEARTBEAT_GAP (kniferail status) shows longer gaps, "
           "heartbeat_limit_ms should\n        be at least 3 times that\n",
           c->heartbeat_limit_ms, c->control_limit_ms, c->heartbeat_limit_ms / 3);
    print_permissives("to scan:", c->need_scan);
    print_permissives("to drag:", c->need_drag);
    print_permissives("to home:", c->need_home);
    print_permissives("to jog:", c->need_jog);
    print_permissives("drive inputs:", c->drive_inputs);
    if (c->setup_mode_enforced)
        printf("    the file states that the safety system enforces the mode of a jog (selector, enabling device,\n"
               "    limited speed); this program neither verifies nor replaces that\n");
    print_permissives("access:", c->access);
    if (c->brakes_hold)
        printf(
            "    the file states that brakes and clamps hold the holders without power: this program neither verifies\n"
            "    nor replaces that\n");
    for (uint16_t i = 0; i < g->n_rails; i++) {
        print_rail(s, i);
        if (s->positioner == KR_POSITIONER_MODBUS) {
            print_line_time(s, i);
            print_silence(s, i);
            print_watchdog(s, i);
            print_own_settings(&s->drive[i]);
            print_expected(&s->drive[i]);
        }
    }
    print_unnoticed(c);
    kr_check_notes(s);
}

static void print_book(const struct kr_config *config)
{
    printf("book %s\n", config->book_path);
    if (config->history_days == 0 && config->history_mb == 0)
        printf("    its history is kept for ever: history_days and history_mb set no limit\n");
    if (config->history_days > 0)
        printf("    its history is kept for %d days\n", config->history_days);
    if (config->history_mb > 0)
        printf("    its history is kept until the book holds %d MB; then the oldest rows are deleted\n",
               config->history_mb);
}

static bool any_simulated(const struct kr_config *config)
{
    for (uint16_t i = 0; i < config->n_stations; i++)
        if (config->station[i].positioner == KR_POSITIONER_SIMULATED)
            return true;
    return false;
}

static void print_config(const struct kr_config *config)
{
    printf("%s: no mistakes\n", config->path);
    if (any_simulated(config))
        printf("cycle %d ms; simulated machines run %d times as fast as the clock\n", config->period_ms,
               config->speed_factor);
    else
        printf("cycle %d ms, no simulated machine: every station moves the drives at its addresses\n",
               config->period_ms);
    if (config->book_path[0])
        print_book(config);
    else
        printf("the file names no book, so that nothing survives a restart\n");
    for (uint16_t i = 0; i < config->face.n_listen; i++)
        printf("the server listens on %s, port %u\n", config->face.listen[i].address, config->face.listen[i].port);
    for (uint16_t i = 0; i < config->n_stations; i++)
        print_station(&config->station[i]);
}

int kr_cmd_check(int argc, char **argv)
{
    static struct kr_config config;
    bool book = false;
    const struct kr_option option = {"book", NULL, &book};
    int first, answer = kr_read_options(argc, argv, &option, 1, &first);
    if (answer != KR_RUN)
        return answer;
    if (argc - first > 1)
        return kr_usage("check", "only one FILE is possible, so that '%s' is one too many", argv[first + 1]);
    if (argc == first)
        return kr_usage("check", "one FILE is needed");
    if (!kr_read_config(argv[first], &config))
        return KR_EXIT_REFUSED;
    print_config(&config);
    return kr_flushed(!book || kr_check_book(&config) ? KR_EXIT_OK : KR_EXIT_REFUSED);
}
