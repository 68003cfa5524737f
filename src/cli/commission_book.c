/* The values of a running station's book on which verdicts of commissioning stand. They are read over Modbus, so that a
 * change is seen whoever made it: a maintenance request of this program, of `kniferail set`, or of an HMI. */
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "commission_moves.h"
#include "set_frame.h"
#include "set_switch.h"
#include "set_times.h"

#define NAME_MAX_LENGTH 80

/* ---- names and texts ------------------------------------------------------------------------------------------- */

__attribute__((format(printf, 4, 5))) static void keep(json_t *book, uint16_t rail, const char *name,
                                                       const char *format, ...)
{
    char key[NAME_MAX_LENGTH], text[80];
    va_list values;
    snprintf(key, sizeof key, "rail %u: book.%s", rail + 1u, name);
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    json_object_set_new(book, key, json_string(text));
}

__attribute__((format(printf, 5, 6))) static void keep_of_holder(json_t *book, uint16_t rail, uint16_t holder,
                                                                 const char *name, const char *format, ...)
{
    char full[NAME_MAX_LENGTH], text[64];
    va_list values;
    snprintf(full, sizeof full, "%s of holder %u", name, holder + 1u);
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    keep(book, rail, full, "%s", text);
}

static void offset_text(int32_t um, char text[24])
{
    snprintf(text, 24, "%.3f mm", um / 1000.0);
}

/* A table of errors is too long for a sentence: its number of points and a checksum (FNV-1a) stand for it. */
static uint32_t checksum(const struct kr_frame *frame)
{
    uint32_t sum = 2166136261u;
    for (uint16_t i = 0; i < frame->n_points; i++) {
        const uint32_t values[2] = {(uint32_t)frame->point[i].at_um, (uint32_t)frame->point[i].error_um};
        for (unsigned k = 0; k < 8; k++)
            sum = (sum ^ (values[k / 4] >> 8 * (k % 4) & 0xFFu)) * 16777619u;
    }
    return sum;
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

static bool read_rail(struct commission *c, uint16_t rail, json_t *book)
{
    struct kr_frame frame;
    struct kr_switch of_switch;
    struct kr_rail_times times;
    char offset[24];
    if (!set_frame_read(&c->client, (uint16_t)(rail + 1), &frame) ||
        !set_switch_read(&c->client, (uint16_t)(rail + 1), &of_switch) ||
        !set_times_read(&c->client, (uint16_t)(rail + 1), &times))
        return false;
    keep(book, rail, "frame.offset_mm", "%.3f mm", frame.offset_um / 1000.0);
    keep(book, rail, "frame.scale_ppm", "%.3f ppm", frame.scale_ppb / 1000.0);
    keep(book, rail, "frame.table", "%u points, checksum %08" PRIX32, frame.n_points, checksum(&frame));
    offset_text(of_switch.offset_um, offset);
    keep(book, rail, "switch_offset_mm", "%s", offset);
    keep(book, rail, "scan_bias_mm", "%.3f mm", of_switch.bias_um / 1000.0);
    keep(book, rail, "times.dock_ms", "%.3f ms", times.dock_us / 1000.0);
    keep(book, rail, "times.undock_ms", "%.3f ms", times.undock_us / 1000.0);
    keep(book, rail, "times.setpoint_ms", "%.3f ms", times.setpoint_us / 1000.0);
    keep(book, rail, "times.rounding_ms", "%.3f ms", times.rounding_us / 1000.0);
    return true;
}

/* A holder that is out of service, seized or taken off does not count: it is judged again once it is in service. */
static bool read_holders(struct commission *c, uint16_t rail, json_t *book)
{
    static const enum kr_reg rows[] = {KR_REG_HOLDER_STATE, KR_REG_HOLDER_SIZE, KR_REG_HOLDER_OFFSET,
                                       KR_REG_HOLDER_EDGE};
    const struct kr_image *image = &c->client.image;
    uint16_t n = c->station->station.geometry.rail[rail].n_holders;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (!kr_client_row(&c->client, rows[i], rail, n))
            return false;
    for (uint16_t h = 0; h < n; h++) {
        if (!commission_holder_serves(c, rail, h))
            continue;
        uint16_t edge = kr_get_u16(image, KR_REG_HOLDER_EDGE, rail, h);
        keep_of_holder(book, rail, h, "size", "%u", kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, h));
        keep_of_holder(book, rail, h, "edge_offset_mm", "%.3f mm",
                       kr_get_um(image, KR_REG_HOLDER_OFFSET, rail, h) / 1000.0);
        keep_of_holder(book, rail, h, "edge_proof", "%s",
                       edge == KR_EDGE_UNPROVEN || edge == KR_EDGE_STRUCK ? "not proven" : "proven");
    }
    return true;
}

json_t *commission_book_read(struct commission *c)
{
    json_t *book = json_object();
    bool whole = book != NULL;
    for (uint16_t r = 0; whole && r < c->station->station.geometry.n_rails; r++)
        whole = read_rail(c, r, book) && read_holders(c, r, book);
    if (whole)
        return book;
    fprintf(stderr, "kniferail commission: %s\n", book != NULL ? c->client.error : "there is no memory");
    json_decref(book);
    return NULL;
}

/* ---- what changed ---------------------------------------------------------------------------------------------- */

void commission_book_carry_offset(struct commission *c, uint16_t rail, int32_t from_um, int32_t to_um)
{
    char key[NAME_MAX_LENGTH], from[24], to[24];
    if (c->carried == NULL)
        c->carried = json_object();
    snprintf(key, sizeof key, "rail %u: book.switch_offset_mm", rail + 1u);
    offset_text(from_um, from);
    offset_text(to_um, to);
    json_object_set_new(c->carried, key, json_pack("{ss, ss}", "from", from, "to", to));
}

/* Returns the value that a record has, or the value that later steps have made of it without changing what counts. */
static const char *value_in(const struct commission *c, const json_t *record, const char *name)
{
    const json_t *records = json_object_get(c->session, "records"), *other;
    const char *value = json_string_value(json_object_get(json_object_get(record, "book"), name));
    bool later = false;
    size_t i;
    json_array_foreach(records, i, other)
    {
        const json_t *carried = json_object_get(json_object_get(other, "carried"), name);
        const char *from = json_string_value(json_object_get(carried, "from"));
        const char *to = json_string_value(json_object_get(carried, "to"));
        if (later && value != NULL && from != NULL && to != NULL && strcmp(value, from) == 0)
            value = to;
        later = later || other == record;
    }
    return value;
}

bool commission_book_differs(const struct commission *c, const json_t *record, const struct kr_step *step,
                             uint16_t rail_number, char *why, size_t size)
{
    const char *name;
    json_t *value;
    /* A session of an older program has no values of the book: only a new walk begins to keep them. */
    if (c->book == NULL || json_object_get(record, "book") == NULL)
        return false;
    json_object_foreach(c->book, name, value)
    {
        if (!kr_step_stands_on(step, rail_number, name))
            continue;
        const char *was = value_in(c, record, name), *is = json_string_value(value);
        if (was != NULL && strcmp(was, is) == 0)
            continue;
        if (was != NULL)
            snprintf(why, size, "%s was %s and is %s", name, was, is);
        else
            snprintf(why, size, "%s is %s, and did not count when the step was walked", name, is);
        return true;
    }
    return false;
}
