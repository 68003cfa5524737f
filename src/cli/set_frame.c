#include "set_frame.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "lengths.h"

#define POINTS_TEXT_MAX 4096

/* ---- arguments ------------------------------------------------------------------------------------------------- */

static bool put_scale(struct edit_block *block, const char *text)
{
    char *end;
    double most_ppm = KR_FRAME_SCALE_MAX_PPB / 1000.0;
    errno = 0;
    double ppm = strtod(text, &end);
    if (errno != 0 || end == text || *end != '\0' || !(fabs(ppm) <= most_ppm)) {
        (void)kr_usage("set", "scale '%s'; allowed: %g to %g ppm", text, -most_ppm, most_ppm);
        return false;
    }
    edit_put_32(block, KR_REG_EDIT_FRAME_SCALE, 0, (uint32_t)lround(1000 * ppm));
    return true;
}

static bool put_length(struct edit_block *block, enum kr_reg reg, uint16_t index, const char *what, const char *text)
{
    int64_t nm;
    if (!length_read("set", what, text, block->format.length_unit, &nm))
        return false;
    edit_put_length(block, reg, index, nm);
    return true;
}

/* "500:0.012" */
static bool put_point(struct edit_block *block, char *text)
{
    uint16_t i = block->n_points;
    char *colon = strchr(text, ':');
    if (colon == NULL || i == KR_FRAME_POINTS_MAX) {
        (void)kr_usage("set", "points: '%s'; allowed: up to %d of POSITION:ERROR, with commas between them", text,
                       KR_FRAME_POINTS_MAX);
        return false;
    }
    *colon = '\0';
    if (!put_length(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i), "position of a point", text) ||
        !put_length(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i + 1), "error of a point", colon + 1))
        return false;
    *edit_at(block, KR_REG_EDIT_FRAME_POINTS, 0) = ++block->n_points;
    return true;
}

static bool put_points(struct edit_block *block, const char *text)
{
    char copy[POINTS_TEXT_MAX], *rest = NULL;
    if (snprintf(copy, sizeof copy, "%s", text) >= (int)sizeof copy) {
        (void)kr_usage("set", "the points are longer than %d characters", POINTS_TEXT_MAX - 1);
        return false;
    }
    block->n_points = 0;
    for (char *point = strtok_r(copy, ",", &rest); point != NULL; point = strtok_r(NULL, ",", &rest))
        if (!put_point(block, point))
            return false;
    return true;
}

bool set_frame_put(struct edit_block *block, char letter, const char *text)
{
    block->of_frame = true;
    switch (letter) {
    case 'O': return put_length(block, KR_REG_EDIT_FRAME_OFFSET, 0, "offset", text);
    case 'S': return put_scale(block, text);
    default: return put_points(block, text);
    }
}

void set_frame_fill(struct edit_block *block, const struct kr_frame *frame)
{
    block->of_frame = true;
    block->n_points = frame->n_points;
    edit_put_length(block, KR_REG_EDIT_FRAME_OFFSET, 0, 1000LL * frame->offset_um);
    edit_put_32(block, KR_REG_EDIT_FRAME_SCALE, 0, (uint32_t)frame->scale_ppb);
    *edit_at(block, KR_REG_EDIT_FRAME_POINTS, 0) = frame->n_points;
    for (uint16_t i = 0; i < frame->n_points; i++) {
        edit_put_length(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i), 1000LL * frame->point[i].at_um);
        edit_put_length(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i + 1), 1000LL * frame->point[i].error_um);
    }
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

bool set_frame_read(struct kr_client *client, uint16_t rail_number, struct kr_frame *frame)
{
    const struct kr_image *image = &client->image;
    uint16_t rail = (uint16_t)(rail_number - 1);
    *frame = (struct kr_frame){0};
    if (rail_number < 1 || rail_number > KR_RAILS_MAX)
        return true; /* the station will say that there is no such rail */
    if (!kr_client_row(client, KR_REG_FRAME_ORIGIN, rail, 12))
        return false;
    uint16_t n = kr_get_u16(image, KR_REG_FRAME_POINTS, rail, 0);
    frame->n_points = n < KR_FRAME_POINTS_MAX ? n : KR_FRAME_POINTS_MAX;
    frame->offset_um = kr_get_um(image, KR_REG_FRAME_OFFSET, rail, 0);
    frame->scale_ppb = kr_get_i32(image, KR_REG_FRAME_SCALE, rail, 0);
    if (!kr_client_row(client, KR_REG_FRAME_TABLE, rail, (uint16_t)(2 * frame->n_points)))
        return false;
    for (uint16_t i = 0; i < frame->n_points; i++)
        frame->point[i] = (struct kr_frame_point){kr_get_um(image, KR_REG_FRAME_TABLE, rail, (uint16_t)(2 * i)),
                                                  kr_get_um(image, KR_REG_FRAME_TABLE, rail, (uint16_t)(2 * i + 1))};
    return true;
}

static void print_points(const char *what, const struct kr_frame *frame, enum kr_length_unit unit)
{
    char at[24], error[24];
    if (frame->n_points > 0)
        printf("the table %s\n", what);
    for (uint16_t i = 0; i < frame->n_points; i++) {
        kr_length_text(frame->point[i].at_um, unit, at, sizeof at);
        kr_length_text(frame->point[i].error_um, unit, error, sizeof error);
        printf("%8s%14s  %14s\n", "", at, error);
    }
}

bool set_frame_changed(struct kr_client *client, uint16_t rail_number, const struct kr_frame *was)
{
    enum kr_length_unit unit = client->image.format.length_unit;
    struct kr_frame is;
    char from[24], to[24];
    if (!set_frame_read(client, rail_number, &is))
        return false;
    kr_length_text(was->offset_um, unit, from, sizeof from);
    kr_length_text(is.offset_um, unit, to, sizeof to);
    printf("rail %u             was         becomes\n", rail_number);
    printf("offset  %14s  %14s\n", from, to);
    printf("scale   %10.3f ppm  %10.3f ppm\n", was->scale_ppb / 1000.0, is.scale_ppb / 1000.0);
    printf("points  %14u  %14u\n", was->n_points, is.n_points);
    print_points("was", was, unit);
    print_points("becomes", &is, unit);
    return true;
}
