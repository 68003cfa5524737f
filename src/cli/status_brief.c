#include "status_brief.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/client.h"
#include "status_view.h"

#define LINES_MAX 400

/* Lines that are kept until it is known how many of them have room. */
struct lines {
    int n, columns;
    char text[LINES_MAX][4 * KR_SCENE_COLUMNS_MAX];
};

static void add(struct lines *lines, const char *text)
{
    if (lines->n < LINES_MAX)
        snprintf(lines->text[lines->n++], sizeof lines->text[0], "%s", text);
}

/* Breaks the text between words, and indents the lines after the first. */
__attribute__((format(printf, 3, 4))) static void say(struct lines *lines, int indent, const char *format, ...)
{
    char whole[1200], line[KR_SCENE_COLUMNS_MAX + 1];
    va_list values;
    va_start(values, format);
    vsnprintf(whole, sizeof whole, format, values);
    va_end(values);
    const char *rest = whole;
    for (int first = 1; *rest || first; first = 0) {
        int room = lines->columns - (first ? 0 : indent);
        int n = (int)strlen(rest), cut = n;
        if (n > room) {
            for (cut = room; cut > 0 && rest[cut] != ' '; cut--)
                continue;
            cut = cut > 0 ? cut : room;
        }
        snprintf(line, sizeof line, "%*s%.*s", first ? 0 : indent, "", cut, rest);
        add(lines, line);
        rest += cut;
        rest += strspn(rest, " ");
    }
}

static void add_painted(void *arg, const char *text)
{
    add(arg, text);
}

static void print(FILE *to, const struct lines *lines, int first, int n)
{
    for (int i = first; i < first + n && i < lines->n; i++)
        fprintf(to, "%s\n", lines->text[i]);
}

static uint16_t u16(const struct kr_image *image, enum kr_reg reg)
{
    return kr_get_u16(image, reg, 0, 0);
}

static const char *name_of(const char *set, int number)
{
    const struct kr_named_number *n = kr_named(set, number);
    return n ? n->name : "?";
}

static void say_job(struct lines *lines, const struct kr_image *image)
{
    uint16_t state = u16(image, KR_REG_UNIT_STATE), job = u16(image, KR_REG_JOB), phase = u16(image, KR_REG_PHASE);
    const struct kr_named_number *named = kr_named("UNIT_STATE", state);
    int32_t left_ms = kr_get_i32(image, KR_REG_TIME_LEFT, 0, 0);
    say(lines, 14, "%-14s%s: %s", "unit state", named ? named->name : "?", named ? named->text : "?");
    if (job != 0 && phase != KR_PHASE_NONE)
        say(lines, 14, "%-14s%s, phase %s; %u %% done, %" PRId32 ":%02" PRId32 " min left", "job",
            name_of("COMMAND_JOB", job), name_of("PHASE", phase), u16(image, KR_REG_PROGRESS), left_ms / 60000,
            left_ms / 1000 % 60);
}

static void say_orders(struct lines *lines, const struct kr_image *image)
{
    uint32_t in_force = (uint32_t)kr_get_i32(image, KR_REG_ORDER_IN_FORCE, 0, 0),
             staged = (uint32_t)kr_get_i32(image, KR_REG_ORDER_STAGED, 0, 0);
    char force[64] = "no order is in force", next[64] = "none is staged";
    if (in_force)
        snprintf(force, sizeof force, "order %" PRIu32 " is in force and %sverified", in_force,
                 u16(image, KR_REG_STATUS) & KR_STATUS_VERIFIED ? "" : "NOT ");
    if (staged)
        snprintf(next, sizeof next, "order %" PRIu32 " is staged, %u behind it", staged,
                 u16(image, KR_REG_QUEUE_COUNT));
    say(lines, 14, "%-14s%s; %s", "orders", force, next);
}

static void say_line(struct lines *lines, const struct kr_image *image)
{
    uint16_t missing = u16(image, KR_REG_PERMISSIVES_MISSING);
    char names[200] = "", signals[KR_VIEW_LINE_MAX];
    say(lines, 14, "%-14s%s", "line signals", kr_view_line(image, signals));
    for (int bit = 0; bit < 16; bit++)
        if (missing >> bit & 1)
            snprintf(names + strlen(names), sizeof names - strlen(names), "%s%s", names[0] ? ", " : "",
                     name_of("PERMISSIVES", bit));
    if (missing)
        say(lines, 14, "%-14smissing: %s", "permissives", names);
}

/* Knives whose edges are not proven keep the line from running. */
static void say_edges(struct lines *lines, const struct kr_image *image)
{
    uint16_t words = kr_reg_info(KR_REG_EDGES_UNPROVEN)->n;
    bool any = false;
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        for (uint16_t i = 0; i < words; i++)
            any = any || kr_get_u16(image, KR_REG_EDGES_UNPROVEN, r, i) != 0;
    if (any)
        say(lines, 14, "%-14ssome are not proven, and the line may not run with them: --full shows which",
            "cutting edges");
}

static void say_alarm(struct lines *lines, const struct kr_image *image, uint16_t index)
{
    char text[KR_SENTENCE_MAX];
    struct kr_alarm alarm = kr_get_alarm(image, index);
    const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
    kr_alarm_text(&alarm, image->format.length_unit, text, sizeof text);
    say(lines, 2, "! %s: %s", info ? info->name : "?", text);
    if (info)
        say(lines, 4, "  > %s", info->remedy);
}

/* Prints as many alarms as have room, and the first one in any case. */
static int print_alarms(FILE *to, const struct kr_image *image, int columns, int room)
{
    static struct lines lines;
    uint16_t standing = u16(image, KR_REG_ALARM_COUNT), shown = 0, n = kr_get_alarms(image);
    int used = 0;
    lines.columns = columns;
    for (lines.n = 0; shown < n; shown++) {
        say_alarm(&lines, image, shown);
        if (shown > 0 && lines.n > room - (shown + 1 < standing))
            break;
        used = lines.n;
    }
    print(to, &lines, 0, used);
    if (shown < standing)
        fprintf(to, "there are %u more alarms: --full shows them\n", standing - shown);
    return used + (shown < standing);
}

/* Returns how many lines stand above the legend of the marks. */
static int paint(struct lines *lines, const struct kr_image *image, struct kr_scene_style style)
{
    static struct kr_scene scene;
    kr_scene_of_image(&scene, image);
    lines->n = 0;
    return kr_scene_text(&scene, style, (struct kr_scene_lines){add_painted, lines});
}

void kr_status_brief(FILE *to, const struct kr_image *image, struct kr_scene_style style, int rows)
{
    static struct lines head, picture;
    char name[KR_NAME_MAX];
    head.n = 0;
    head.columns = style.columns;
    kr_get_text(image, KR_REG_STATION_NAME, name, sizeof name);
    say(&head, 14, "%-14s%s, session %u", "station", name, u16(image, KR_REG_SESSION));
    say_job(&head, image);
    say_orders(&head, image);
    say_line(&head, image);
    say_edges(&head, image);
    if (u16(image, KR_REG_ALARM_COUNT) == 0)
        say(&head, 14, "%-14snone", "alarms");
    print(to, &head, 0, head.n);
    int rails = paint(&picture, image, style);
    int used = head.n + print_alarms(to, image, style.columns, rows - head.n - rails);
    print(to, &picture, 0, used + picture.n <= rows ? picture.n : rails);
}
