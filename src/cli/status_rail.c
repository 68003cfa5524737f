/* Prints a rail in words, and the table of its holders. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/axis.h"
#include "kniferail/client.h"
#include "map_words.h"
#include "status_view.h"

#define LENGTH_TEXT_MAX 32

#define HOLDER_ROW "%6s %4s %4s %-14s %-10s %12s %12s %10s %11s %8s\n" /* within 100 columns */

/* The text is empty if there is nothing to say. */
static const char *length_at(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t i, bool is,
                             char text[LENGTH_TEXT_MAX])
{
    text[0] = '\0';
    if (is)
        kr_length_text(kr_get_um(image, reg, rail, i), image->format.length_unit, text, LENGTH_TEXT_MAX);
    return text;
}

static void print_holder(FILE *to, const struct kr_image *image, uint16_t rail, uint16_t i)
{
    uint16_t known = kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, i),
             state = kr_get_u16(image, KR_REG_HOLDER_STATE, rail, i),
             cut = kr_get_u16(image, KR_REG_HOLDER_CUT, rail, i);
    char number[8], cuts[8] = "idle", size[8], metres[16], position[LENGTH_TEXT_MAX], target[LENGTH_TEXT_MAX],
                    deviation[LENGTH_TEXT_MAX], offset[LENGTH_TEXT_MAX];
    snprintf(number, sizeof number, "%u", i + 1u);
    snprintf(size, sizeof size, "%u", kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, i));
    snprintf(metres, sizeof metres, "%" PRIu32, (uint32_t)kr_get_i32(image, KR_REG_HOLDER_METRES, rail, i));
    if (cut)
        snprintf(cuts, sizeof cuts, "%u", cut);
    length_at(image, KR_REG_HOLDER_POSITION, rail, i, known != KR_UNKNOWN, position);
    fprintf(to, HOLDER_ROW, number, cuts, size, kr_number_word("HOLDER_STATE", state),
            kr_number_word("HOLDER_KNOWN", known), known == KR_UNKNOWN ? "?" : position,
            length_at(image, KR_REG_HOLDER_TARGET, rail, i, cut != 0, target),
            length_at(image, KR_REG_HOLDER_DEVIATION, rail, i, cut != 0 && known == KR_MEASURED, deviation),
            length_at(image, KR_REG_HOLDER_OFFSET, rail, i, true, offset), metres);
}

static uint16_t of_drive(const struct kr_image *image, enum kr_reg reg, uint16_t rail)
{
    return kr_get_u16(image, reg, 0, rail);
}

/* Prints a drive that answers but is not used. */
static void print_refusal(FILE *to, const struct kr_image *image, uint16_t rail)
{
    char name[KR_PARAMETER_NAME_MAX + 1];
    if (of_drive(image, KR_REG_DRIVE_REFUSED, rail) == KR_REFUSED_OTHER_GATEWAY)
        fprintf(to, "%-14srail %u: it is NOT USED, because another gateway works it\n", "drive", rail + 1u);
    kr_get_text(image, (enum kr_reg)(KR_REG_DRIVE_PARAMETER_NAME_1 + rail), name, sizeof name);
    if (of_drive(image, KR_REG_DRIVE_REFUSED, rail) == KR_REFUSED_PARAMETER)
        fprintf(to,
                "%-14srail %u: it is REFUSED: parameter \"%s\" (register %u) shows %" PRId32 ", and %" PRId32
                " is expected\n",
                "drive", rail + 1u, name, of_drive(image, KR_REG_DRIVE_PARAMETER, rail),
                kr_get_i32(image, KR_REG_DRIVE_PARAMETER_SEEN, 0, rail),
                kr_get_i32(image, KR_REG_DRIVE_PARAMETER_EXPECTED, 0, rail));
}

/* Prints nothing for the simulated machine, which has no wire. */
static void print_wire(FILE *to, const struct kr_image *image, uint16_t rail)
{
    unsigned longest_ms = of_drive(image, KR_REG_DRIVE_LONGEST_ANSWER, rail),
             lost = of_drive(image, KR_REG_DRIVE_ANSWERS_LOST, rail),
             links = of_drive(image, KR_REG_DRIVE_LINKS_LOST, rail),
             retries = of_drive(image, KR_REG_DRIVE_RETRIES, rail);
    if (longest_ms + lost + links + retries > 0)
        fprintf(to, "%-14srail %u: its longest answer took %u ms; %u retries, %u answers lost, %u links lost\n",
                "drive", rail + 1u, longest_ms, retries, lost, links);
}

/* Where a drive has limit switches, it stops at them by itself. */
static void print_limits(FILE *to, const struct kr_image *image, uint16_t rail)
{
    static const struct {
        uint16_t input;
        const char *name, *side;
    } row[] = {{KR_DI_LIMIT_LOW, "limit_low", "operator"}, {KR_DI_LIMIT_HIGH, "limit_high", "drive"}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        if (kr_get_u16(image, KR_REG_RAIL_INPUTS, rail, 0) & row[i].input)
            fprintf(to, "%-14srail %u: the carriage is AT THE LIMIT SWITCH at the %s side (input %s)\n", "carriage",
                    rail + 1u, row[i].side, row[i].name);
}

void kr_view_drive(FILE *to, const struct kr_image *image, uint16_t rail)
{
    print_refusal(to, image, rail);
    print_wire(to, image, rail);
    print_limits(to, image, rail);
}

static bool edge_is(const struct kr_image *image, uint16_t rail, uint16_t i, bool struck)
{
    bool is_struck = kr_get_u16(image, KR_REG_HOLDER_EDGE, rail, i) == KR_EDGE_STRUCK;
    bool unproven = kr_get_u16(image, KR_REG_EDGES_UNPROVEN, rail, (uint16_t)(i / 16)) >> i % 16 & 1;
    return unproven && is_struck == struck;
}

/* "1-7, 9", or an empty text if there are none. */
static void print_edges(FILE *to, const struct kr_image *image, uint16_t rail, bool struck, const char *what,
                        const char *way_out)
{
    const char *before = "";
    uint16_t n = kr_get_holders(image, rail);
    for (uint16_t i = 0; i < n; i++) {
        uint16_t last = i;
        if (!edge_is(image, rail, i, struck))
            continue;
        while (last + 1 < n && edge_is(image, rail, (uint16_t)(last + 1), struck))
            last++;
        if (before[0] == '\0')
            fprintf(to, "%-14srail %u: %s ", "cutting edges", rail + 1u, what);
        fprintf(to, "%s%u", before, i + 1u);
        if (last > i)
            fprintf(to, "-%u", last + 1u);
        before = ", ";
        i = last;
    }
    if (before[0] != '\0')
        fprintf(to, "\n%-14s%s\n", "", way_out);
}

void kr_view_edges(FILE *to, const struct kr_image *image, uint16_t rail)
{
    print_edges(to, image, rail, true, "these holders were in a crash:",
                "look at each of them, then give kniferail set bench, feeler, swap or out");
    print_edges(to, image, rail, false, "nobody has proven the edges of holders",
                "the line may not run with them; prove them with kniferail set bench, feeler or trial");
}

/* Prints what references have measured of a rail, and how it has changed from scan to scan. */
void kr_view_references(FILE *to, const struct kr_image *image, uint16_t rail)
{
    char text[LENGTH_TEXT_MAX], more[LENGTH_TEXT_MAX];
    uint16_t n = kr_get_u16(image, KR_REG_REFERENCES, rail, 0);
    if (n == 0)
        return;
    unsigned good = kr_get_u16(image, KR_REG_REFERENCES_GOOD, rail, 0), seen = 0;
    for (unsigned i = 0; i < n; i++)
        seen += good >> i & 1u;
    fprintf(to, "%-14srail %u: the last scan saw %u of %u; corrections: datum %s, switch %s, scale %.3f ppm\n",
            "references", rail + 1u, seen, n, length_at(image, KR_REG_DATUM_CORRECTION, rail, 0, true, text),
            length_at(image, KR_REG_SWITCH_CORRECTION, rail, 0, true, more),
            kr_get_i32(image, KR_REG_SCALE_CORRECTION, rail, 0) / 1000.0);
    fprintf(to, "%-14sdeviations in the last scans, the newest first:", "");
    for (uint16_t k = 0; k < kr_reg_info(KR_REG_REFERENCE_TREND)->n; k++)
        fprintf(to, "%s %s", k ? "," : "", length_at(image, KR_REG_REFERENCE_TREND, rail, k, true, text));
    fprintf(to, "\n");
}

/* Prints the frame of a rail, or nothing if the drive's position is and always was the place itself. */
void kr_view_frame(FILE *to, const struct kr_image *image, uint16_t rail)
{
    char text[LENGTH_TEXT_MAX];
    uint16_t origin = kr_get_u16(image, KR_REG_FRAME_ORIGIN, rail, 0),
             points = kr_get_u16(image, KR_REG_FRAME_POINTS, rail, 0);
    int32_t scale_ppb = kr_get_i32(image, KR_REG_FRAME_SCALE, rail, 0);
    uint16_t at_ck = kr_get_u16(image, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0);
    if (rail == 0 && at_ck != 0)
        fprintf(to, "%-14sat %.1f C each place counts as %.1f ppm more than it reads\n", "machine frame",
                (at_ck - 27315) / 100.0, kr_get_i32(image, KR_REG_FRAME_EXPANSION, 0, 0) / 1000.0);
    bool is_plain = points == 0 && scale_ppb == 0 && kr_get_um(image, KR_REG_FRAME_OFFSET, rail, 0) == 0;
    if (origin == KR_FRAME_FROM_NONE || (is_plain && origin == KR_FRAME_FROM_FILE))
        return;
    fprintf(to, "%-14srail %u: offset %s, scale %.3f ppm, %u points of error; set by: %s\n", "machine frame", rail + 1u,
            length_at(image, KR_REG_FRAME_OFFSET, rail, 0, true, text), scale_ppb / 1000.0, points,
            kr_number_word("FRAME_ORIGIN", origin));
}

/* Prints nothing if both are 0 and always were. */
void kr_view_switch(FILE *to, const struct kr_image *image, uint16_t rail)
{
    char text[LENGTH_TEXT_MAX], bias[LENGTH_TEXT_MAX];
    uint16_t origin = kr_get_u16(image, KR_REG_SWITCH_ORIGIN, rail, 0);
    int32_t bias_um = kr_get_um(image, KR_REG_SCAN_BIAS, rail, 0);
    bool is_plain = bias_um == 0 && kr_get_um(image, KR_REG_SWITCH_OFFSET, rail, 0) == 0;
    if (origin == KR_FRAME_FROM_NONE || (is_plain && origin == KR_FRAME_FROM_FILE))
        return;
    fprintf(to, "%-14srail %u: offset %s, scan bias %s%s; set by: %s\n", "scan switch", rail + 1u,
            length_at(image, KR_REG_SWITCH_OFFSET, rail, 0, true, text),
            length_at(image, KR_REG_SCAN_BIAS, rail, 0, true, bias), bias_um == 0 ? " (scans go both ways)" : "",
            kr_number_word("FRAME_ORIGIN", origin));
}

/* Prints nothing if the times are those of the station file and always were. */
void kr_view_times(FILE *to, const struct kr_image *image, uint16_t rail)
{
    uint16_t origin = kr_get_u16(image, KR_REG_TIMES_ORIGIN, 0, rail);
    if (origin == KR_FRAME_FROM_NONE || origin == KR_FRAME_FROM_FILE)
        return;
    fprintf(to, "%-14srail %u: dock %.1f ms, undock %.1f ms, set-point %.1f ms, rounding %.1f ms; from: %s\n",
            "planned times", rail + 1u, kr_get_i32(image, KR_REG_DOCK_TIME, 0, rail) / 1000.0,
            kr_get_i32(image, KR_REG_UNDOCK_TIME, 0, rail) / 1000.0,
            kr_get_i32(image, KR_REG_SETPOINT_TIME, 0, rail) / 1000.0,
            kr_get_i32(image, KR_REG_ROUNDING_TIME, 0, rail) / 1000.0, kr_number_word("FRAME_ORIGIN", origin));
}

void kr_view_holder_table(FILE *to, const struct kr_image *image, uint16_t rail)
{
    fprintf(to, "\nrail %u, %s\n", rail + 1u,
            kr_number_word("RAIL_ROLE", kr_get_u16(image, KR_REG_RAIL_ROLE, rail, 0)));
    fprintf(to, HOLDER_ROW, "holder", "cut", "size", "state", "known", "position", "target", "deviation", "edge offset",
            "metres");
    for (uint16_t i = 0; i < kr_get_holders(image, rail); i++)
        print_holder(to, image, rail, i);
}
