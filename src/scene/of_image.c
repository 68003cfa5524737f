/* Makes a scene of a station from its registers. A register may hold any value, so that a count is limited to the size
 * of its array. */
#include <stdio.h>
#include <string.h>

#include "kniferail/scene.h"

static void take_web(struct kr_scene *scene, const struct kr_image *image, const struct kr_cut_registers *of)
{
    scene->order_number = (uint32_t)kr_get_i32(image, of->order, 0, 0);
    scene->n_cuts = kr_get_cut_lines(image, of);
    for (uint16_t i = 0; i < scene->n_cuts; i++)
        scene->cut_um[i] = kr_get_um(image, of->line, 0, i);
    for (int side = 0; side < 2 && scene->n_cuts > 0; side++) {
        scene->edge_um[side] = kr_get_um(image, of->web[side], 0, 0);
        scene->trim_nm[side] = kr_nm_from_count(kr_get_i32(image, of->trim[side], 0, 0), scene->length_unit);
    }
}

static void add_slit(struct kr_scene *scene, int32_t left_um, int32_t right_um)
{
    if (scene->n_slits < KR_SLITS_MAX)
        scene->slit[scene->n_slits++] = (struct kr_scene_slit){
            .left_um = left_um, .right_um = right_um, .width_nm = ((int64_t)right_um - left_um) * KR_NM_PER_UM};
}

/* At an untrimmed edge a slit reaches to the web's edge. A trimmed edge may have a trim of 0, and then its cut line
 * lies on the edge. */
static void take_slits(struct kr_scene *scene)
{
    uint16_t n = scene->n_cuts;
    if (n > 0 && scene->trim_nm[0] == 0 && scene->edge_um[0] < scene->cut_um[0])
        add_slit(scene, scene->edge_um[0], scene->cut_um[0]);
    for (uint16_t i = 0; i + 1 < n; i++)
        add_slit(scene, scene->cut_um[i], scene->cut_um[i + 1]);
    if (n > 0 && scene->trim_nm[1] == 0 && scene->edge_um[1] > scene->cut_um[n - 1])
        add_slit(scene, scene->cut_um[n - 1], scene->edge_um[1]);
}

static void take_measured(struct kr_scene *scene, const struct kr_image *image)
{
    for (uint16_t i = 0; i < scene->n_slits; i++) {
        scene->slit[i].measured_um = kr_get_um(image, KR_REG_SLIT_MEASURED, 0, i);
        scene->slit[i].has_measured = scene->slit[i].measured_um != 0;
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
    /* An unknown state is drawn as fixed. */
    to->state = state <= KR_HOLDER_ABSENT ? (uint8_t)state : KR_HOLDER_FIXED;
    to->known = known <= KR_MEASURED ? (uint8_t)known : KR_UNKNOWN;
    to->cut = kr_get_u16(image, KR_REG_HOLDER_CUT, rail, i);
    to->at_um = kr_get_um(image, KR_REG_HOLDER_POSITION, rail, i);
    to->has_target = to->cut != 0;
    to->target_um = to->has_target ? kr_get_um(image, KR_REG_HOLDER_TARGET, rail, i) : 0;
    to->has_deviation = to->cut != 0 && to->known == KR_MEASURED;
    to->deviation_um = to->has_deviation ? kr_get_um(image, KR_REG_HOLDER_DEVIATION, rail, i) : 0;
    to->body_um = body_of(image, kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, i));
}

/* For instance "at 20.000 mm, standing; 3 of 12 moves". */
static void note_carriage(struct kr_scene_rail *to, const struct kr_image *image, uint16_t rail)
{
    char position[40] = "", docked[40] = "", moves[40] = "";
    uint16_t phase = kr_get_u16(image, KR_REG_CARRIAGE_PHASE, rail, 0),
             holder = kr_get_u16(image, KR_REG_DOCKED_HOLDER, rail, 0),
             planned = kr_get_u16(image, KR_REG_MOVES_PLANNED, rail, 0);
    const struct kr_named_number *named = kr_named("CARRIAGE_PHASE", phase);
    if (to->has_carriage)
        snprintf(position + kr_length_text(to->carriage_um, image->format.length_unit, position, 32), 3, ", ");
    if (holder == UINT16_MAX)
        snprintf(docked, sizeof docked, ", its pin is not proven out");
    else if (holder != 0)
        snprintf(docked, sizeof docked, ", docked to holder %u", holder);
    if (planned > 0)
        snprintf(moves, sizeof moves, "; %u of %u moves", kr_get_u16(image, KR_REG_MOVES_DONE, rail, 0), planned);
    snprintf(to->note, sizeof to->note, "%s%.30s%s%s%s", position, named ? named->text : "?", docked, moves,
             to->has_carriage ? "" : "; NO LINK");
}

static void take_references(struct kr_scene_rail *to, const struct kr_image *image, uint16_t rail)
{
    uint16_t n = kr_get_u16(image, KR_REG_REFERENCES, rail, 0),
             good = kr_get_u16(image, KR_REG_REFERENCES_GOOD, rail, 0);
    to->n_references = n < KR_SCENE_REFERENCES_MAX ? n : KR_SCENE_REFERENCES_MAX;
    for (uint16_t i = 0; i < to->n_references; i++)
        to->reference[i] = (struct kr_scene_reference){.at_um = kr_get_um(image, KR_REG_REFERENCE_PLACE, rail, i),
                                                       .seen = good >> i & 1 ? KR_SCENE_FOUND : KR_SCENE_NOT_FOUND};
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
    take_references(to, image, rail);
}

void kr_scene_of_image(struct kr_scene *scene, const struct kr_image *image)
{
    memset(scene, 0, sizeof *scene);
    scene->source = KR_SCENE_STATION;
    scene->length_unit = image->format.length_unit;
    kr_get_text(image, KR_REG_STATION_NAME, scene->station, sizeof scene->station);
    take_web(scene, image, &kr_cuts_in_force);
    take_slits(scene);
    take_measured(scene, image);
    scene->n_rails = kr_get_rails(image);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        take_rail(scene, image, r);
    kr_scene_bound(scene);
}

void kr_scene_of_staged(struct kr_scene *scene, const struct kr_image *image)
{
    kr_scene_of_image(scene, image);
    int32_t low_um = scene->low_um, high_um = scene->high_um;
    scene->source = KR_SCENE_STAGED;
    scene->n_rails = scene->n_cuts = scene->n_slits = 0;
    take_web(scene, image, &kr_cuts_staged);
    take_slits(scene);
    kr_scene_bound(scene);
    scene->low_um = low_um < scene->low_um ? low_um : scene->low_um;
    scene->high_um = high_um > scene->high_um ? high_um : scene->high_um;
}
