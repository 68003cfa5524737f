/* A scene of a station, from its registers. A register may hold anything: a count is cut to the size of its array. */
#include <stdio.h>
#include <string.h>

#include "kniferail/scene.h"

/* A trim of 0 is an edge that is not trimmed. Where the web ends there, the registers do not say. */
static void take_web(struct kr_scene *scene, const struct kr_image *image)
{
    static const enum kr_reg trims[] = {KR_REG_TRIM_OPERATOR, KR_REG_TRIM_DRIVE};
    scene->n_cuts = kr_get_cut_lines(image);
    for (uint16_t i = 0; i < scene->n_cuts; i++)
        scene->cut_um[i] = kr_get_um(image, KR_REG_CUT_LINE, 0, i);
    for (int side = 0; side < 2 && scene->n_cuts > 0; side++) {
        int32_t trim_um = kr_get_um(image, trims[side], 0, 0);
        int64_t cut_um = scene->cut_um[side == 0 ? 0 : scene->n_cuts - 1];
        int64_t edge_um = side == 0 ? cut_um - trim_um : cut_um + trim_um;
        scene->has_edge[side] = trim_um > 0 && edge_um >= INT32_MIN && edge_um <= INT32_MAX;
        scene->edge_um[side] = (int32_t)(scene->has_edge[side] ? edge_um : cut_um);
        scene->trim_nm[side] = kr_nm_from_count(kr_get_i32(image, trims[side], 0, 0), scene->length_unit);
    }
}

static void take_slits(struct kr_scene *scene, const struct kr_image *image)
{
    scene->first_slit = scene->n_cuts > 0 && !scene->has_edge[0] ? 2 : 1;
    scene->n_slits = scene->n_cuts > 0 ? (uint16_t)(scene->n_cuts - 1) : 0;
    for (uint16_t i = 0; i < scene->n_slits; i++) {
        struct kr_scene_slit *slit = &scene->slit[i];
        uint16_t number_from_0 = (uint16_t)(scene->first_slit - 1 + i);
        slit->left_um = scene->cut_um[i];
        slit->right_um = scene->cut_um[i + 1];
        slit->width_nm = ((int64_t)slit->right_um - slit->left_um) * KR_NM_PER_UM;
        if (number_from_0 < KR_SLITS_MAX)
            slit->measured_um = kr_get_um(image, KR_REG_SLIT_MEASURED, 0, number_from_0);
        slit->has_measured = slit->measured_um != 0;
    }
}

static int32_t body_of(const struct kr_image *image, uint16_t size)
{
    bool listed = size >= 1 && size <= KR_SIZES_MAX && size <= kr_get_u16(image, KR_REG_SIZE_COUNT, 0, 0);
    int32_t um = listed ? kr_get_um(image, KR_REG_SIZE_SPACING, 0, (uint16_t)(size - 1)) : 0;
    return um > 0 ? um : 0;
}

static void take_holder(struct kr_scene_holder *to, const struct kr_image *image, uint16_t rail, uint16_t i)
{
    uint16_t state = kr_get_u16(image, KR_REG_HOLDER_STATE, rail, i),
             known = kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, i);
    to->state = state <= KR_HOLDER_ABSENT ? (uint8_t)state
                                          : KR_HOLDER_FIXED; /* a number that no one knows: in the way */
    to->known = known <= KR_MEASURED ? (uint8_t)known : KR_UNKNOWN;
    to->cut = kr_get_u16(image, KR_REG_HOLDER_CUT, rail, i);
    to->at_um = kr_get_um(image, KR_REG_HOLDER_POSITION, rail, i);
    to->has_target = to->cut != 0;
    to->target_um = to->has_target ? kr_get_um(image, KR_REG_HOLDER_TARGET, rail, i) : 0;
    to->has_deviation = to->cut != 0 && to->known == KR_MEASURED;
    to->deviation_um = to->has_deviation ? kr_get_um(image, KR_REG_HOLDER_DEVIATION, rail, i) : 0;
    to->body_um = body_of(image, kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, i));
}

/* "at 20.000 mm, standing; 3 of 12 moves" */
static void note_carriage(struct kr_scene_rail *to, const struct kr_image *image, uint16_t rail)
{
    char position[40] = "", docked[40] = "", moves[40] = "";
    uint16_t phase = kr_get_u16(image, KR_REG_CARRIAGE_PHASE, rail, 0),
             holder = kr_get_u16(image, KR_REG_DOCKED_HOLDER, rail, 0),
             planned = kr_get_u16(image, KR_REG_MOVES_PLANNED, rail, 0);
    const struct kr_named_number *named = kr_named("CARRIAGE_PHASE", phase);
    if (to->has_carriage)
        snprintf(position + kr_length_text(to->carriage_um, image->format.length_unit, position, 32), 3,
                 ", ");
    if (holder == UINT16_MAX)
        snprintf(docked, sizeof docked, ", its pin is not proven out");
    else if (holder != 0)
        snprintf(docked, sizeof docked, ", docked to holder %u", holder);
    if (planned > 0)
        snprintf(moves, sizeof moves, "; %u of %u moves", kr_get_u16(image, KR_REG_MOVES_DONE, rail, 0),
                 planned);
    snprintf(to->note, sizeof to->note, "%s%.30s%s%s%s", position, named ? named->text : "?", docked, moves,
             to->has_carriage ? "" : "; NO LINK");
}

static void take_rail(struct kr_scene *scene, const struct kr_image *image, uint16_t rail)
{
    struct kr_scene_rail *to = &scene->rail[rail];
    enum kr_role role[KR_RAILS_MAX];
    for (uint16_t i = 0; i < scene->n_rails; i++)
        role[i] = kr_get_u16(image, KR_REG_RAIL_ROLE, i, 0) == KR_LOWER ? KR_LOWER : KR_UPPER;
    kr_scene_rail_name(to->name, role, rail);
    to->role = (uint8_t)role[rail];
    to->n_holders = kr_get_holders(image, rail);
    to->has_carriage = kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) != 0;
    to->carriage_um = kr_get_um(image, KR_REG_CARRIAGE_POSITION, rail, 0);
    note_carriage(to, image, rail);
    for (uint16_t i = 0; i < to->n_holders; i++)
        take_holder(&to->holder[i], image, rail, i);
}

void kr_scene_of_image(struct kr_scene *scene, const struct kr_image *image)
{
    memset(scene, 0, sizeof *scene);
    scene->source = KR_SCENE_STATION;
    scene->length_unit = image->format.length_unit;
    kr_get_text(image, KR_REG_STATION_NAME, scene->station, sizeof scene->station);
    scene->order_number = (uint32_t)kr_get_i32(image, KR_REG_ORDER_IN_FORCE, 0, 0);
    take_web(scene, image);
    take_slits(scene, image);
    scene->n_rails = kr_get_rails(image);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        take_rail(scene, image, r);
    kr_scene_bound(scene);
}
