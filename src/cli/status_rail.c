/* A rail drawn to scale: cut lines above, holders on their rail, the carriage below. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/axis.h"
#include "kniferail/client.h"
#include "map_words.h"
#include "status_view.h"

#define WIDTH           100 /* columns of the drawing */
#define MARGIN          2
#define LENGTH_TEXT_MAX 32

struct scale {
    int64_t low_um, high_um;
};

static void widen(struct scale *scale, int32_t um)
{
    scale->low_um = um < scale->low_um ? um : scale->low_um;
    scale->high_um = um > scale->high_um ? um : scale->high_um;
}

static bool drawn(const struct kr_image *image, uint16_t rail, uint16_t index)
{
    return kr_get_u16(image, KR_REG_HOLDER_STATE, rail, index) != KR_HOLDER_ABSENT &&
           kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, index) != KR_UNKNOWN;
}

/* The same scale for every rail, so that they can be compared. */
static struct scale scale_of(const struct kr_image *image)
{
    struct scale scale = {INT64_MAX, INT64_MIN};
    for (uint16_t r = 0; r < kr_get_rails(image); r++) {
        widen(&scale, kr_get_um(image, KR_REG_CARRIAGE_POSITION, r, 0));
        for (uint16_t i = 0; i < kr_get_holders(image, r); i++)
            if (drawn(image, r, i))
                widen(&scale, kr_get_um(image, KR_REG_HOLDER_POSITION, r, i));
    }
    for (uint16_t i = 0; i < kr_get_cut_lines(image); i++)
        widen(&scale, kr_get_um(image, KR_REG_CUT_LINE, 0, i));
    if (scale.high_um <= scale.low_um)
        scale.high_um = scale.low_um + 1;
    return scale;
}

static size_t column(const struct scale *scale, int32_t um)
{
    int64_t span = scale->high_um - scale->low_um;
    return MARGIN + (size_t)(((um - scale->low_um) * (WIDTH - 1) + span / 2) / span);
}

/* What is most worth knowing wins where several share a column. */
static char mark_of(const struct kr_image *image, uint16_t rail, uint16_t index)
{
    uint16_t state = kr_get_u16(image, KR_REG_HOLDER_STATE, rail, index);
    bool cuts = kr_get_u16(image, KR_REG_HOLDER_CUT, rail, index) != 0;
    if (state == KR_HOLDER_FIXED)
        return 'X';
    if (state == KR_HOLDER_OUT)
        return '-';
    if (!cuts)
        return 'o';
    return kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, index) == KR_MEASURED ? '#' : '*';
}

static int rank(char mark)
{
    const char *ranks = " -oX#*";
    const char *found = strchr(ranks, mark);
    return found ? (int)(found - ranks) : 0;
}

/* Without the blanks at its end. */
static void print_line(const char line[MARGIN + WIDTH])
{
    int n = MARGIN + WIDTH;
    while (n > 0 && line[n - 1] == ' ')
        n--;
    printf("%.*s\n", n, line);
}

static void draw(const struct kr_image *image, uint16_t rail)
{
    char cuts[MARGIN + WIDTH], holders[MARGIN + WIDTH], carriage[MARGIN + WIDTH];
    struct scale scale = scale_of(image);
    memset(cuts, ' ', sizeof cuts);
    memset(holders, ' ', sizeof holders);
    memset(carriage, ' ', sizeof carriage);
    for (uint16_t i = 0; i < kr_get_cut_lines(image); i++)
        cuts[column(&scale, kr_get_um(image, KR_REG_CUT_LINE, 0, i))] = '|';
    for (uint16_t i = 0; i < kr_get_holders(image, rail); i++) {
        if (!drawn(image, rail, i))
            continue;
        char *at = &holders[column(&scale, kr_get_um(image, KR_REG_HOLDER_POSITION, rail, i))];
        char mark = mark_of(image, rail, i);
        if (rank(mark) > rank(*at))
            *at = mark;
    }
    carriage[column(&scale, kr_get_um(image, KR_REG_CARRIAGE_POSITION, rail, 0))] = '^';
    print_line(cuts);
    print_line(holders);
    print_line(carriage);
}

#define HOLDER_ROW "%6s %4s %4s %-14s %-10s %12s %12s %10s %11s %8s\n" /* within 100 columns */

/* Empty where there is nothing to tell. */
static const char *length_at(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t i,
                             bool is, char text[LENGTH_TEXT_MAX])
{
    text[0] = '\0';
    if (is)
        kr_length_text(kr_get_um(image, reg, rail, i), image->format.length_unit, text, LENGTH_TEXT_MAX);
    return text;
}

static void print_holder(const struct kr_image *image, uint16_t rail, uint16_t i)
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
    printf(HOLDER_ROW, number, cuts, size, kr_number_word("HOLDER_STATE", state),
           kr_number_word("HOLDER_KNOWN", known), known == KR_UNKNOWN ? "?" : position,
           length_at(image, KR_REG_HOLDER_TARGET, rail, i, cut != 0, target),
           length_at(image, KR_REG_HOLDER_DEVIATION, rail, i, cut != 0 && known == KR_MEASURED, deviation),
           length_at(image, KR_REG_HOLDER_OFFSET, rail, i, true, offset), metres);
}

static uint16_t of_drive(const struct kr_image *image, enum kr_reg reg, uint16_t rail)
{
    return kr_get_u16(image, reg, 0, rail);
}

/* A drive that answers and is not used all the same. */
static void print_refusal(const struct kr_image *image, uint16_t rail)
{
    char name[KR_PARAMETER_NAME_MAX + 1];
    kr_get_text(image, (enum kr_reg)(KR_REG_DRIVE_PARAMETER_NAME_1 + rail), name, sizeof name);
    if (of_drive(image, KR_REG_DRIVE_REFUSED, rail) == KR_REFUSED_PARAMETER)
        printf("    its drive is REFUSED: parameter \"%s\" (register %u) shows %" PRId32 ", and %" PRId32
               " is expected\n",
               name, of_drive(image, KR_REG_DRIVE_PARAMETER, rail),
               kr_get_i32(image, KR_REG_DRIVE_PARAMETER_SEEN, 0, rail),
               kr_get_i32(image, KR_REG_DRIVE_PARAMETER_EXPECTED, 0, rail));
}

/* The simulated machine, which has no wire, has none of these figures. */
static void print_wire(const struct kr_image *image, uint16_t rail)
{
    unsigned longest_ms = of_drive(image, KR_REG_DRIVE_LONGEST_ANSWER, rail),
             lost = of_drive(image, KR_REG_DRIVE_ANSWERS_LOST, rail),
             links = of_drive(image, KR_REG_DRIVE_LINKS_LOST, rail),
             retries = of_drive(image, KR_REG_DRIVE_RETRIES, rail);
    if (longest_ms + lost + links + retries > 0)
        printf("    its drive: longest answer %u ms; %u retries, %u answers lost, links lost: %u\n",
               longest_ms, retries, lost, links);
}

void kr_view_rail(const struct kr_image *image, uint16_t rail, bool table)
{
    uint16_t phase = kr_get_u16(image, KR_REG_CARRIAGE_PHASE, rail, 0),
             docked = kr_get_u16(image, KR_REG_DOCKED_HOLDER, rail, 0);
    const struct kr_named_number *named = kr_named("CARRIAGE_PHASE", phase);
    char position[32];
    kr_length_text(kr_get_um(image, KR_REG_CARRIAGE_POSITION, rail, 0), image->format.length_unit, position,
                   sizeof position);
    printf("\nrail %u %s: carriage at %s, %s", rail + 1u,
           kr_number_word("RAIL_ROLE", kr_get_u16(image, KR_REG_RAIL_ROLE, rail, 0)), position,
           named ? named->text : "?");
    if (docked == UINT16_MAX)
        printf(", its pin is not proven out");
    else if (docked)
        printf(", docked to holder %u", docked);
    printf("; %u of %u moves%s\n", kr_get_u16(image, KR_REG_MOVES_DONE, rail, 0),
           kr_get_u16(image, KR_REG_MOVES_PLANNED, rail, 0),
           kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) ? "" : "; NO LINK");
    print_refusal(image, rail);
    print_wire(image, rail);
    draw(image, rail);
    if (!table)
        return;
    printf(HOLDER_ROW, "holder", "cut", "size", "state", "known", "position", "target", "deviation",
           "edge offset", "metres");
    for (uint16_t i = 0; i < kr_get_holders(image, rail); i++)
        print_holder(image, rail, i);
}
