#include "sheet_record.h"

#include <stdio.h>
#include <string.h>

static void take_cuts(struct kr_scene *scene)
{
    for (uint16_t i = 0; i < scene->n_slits; i++) {
        if (i == 0 && scene->trim_nm[0] > 0)
            scene->cut_um[scene->n_cuts++] = scene->slit[i].left_um;
        if (i + 1 < scene->n_slits || scene->trim_nm[1] > 0)
            scene->cut_um[scene->n_cuts++] = scene->slit[i].right_um;
    }
}

static void take_web(struct kr_scene *scene, const struct kr_book_web *web)
{
    memcpy(scene->edge_um, web->edge_um, sizeof scene->edge_um);
    memcpy(scene->trim_nm, web->trim_nm, sizeof scene->trim_nm);
    scene->n_slits = web->n_slits;
    for (uint16_t i = 0; i < web->n_slits; i++)
        scene->slit[i] = (struct kr_scene_slit){.left_um = web->slit[i].left_um,
                                                .right_um = web->slit[i].right_um,
                                                .width_nm = web->slit[i].width_nm,
                                                .has_measured = web->slit[i].measured_um != 0,
                                                .measured_um = web->slit[i].measured_um};
    take_cuts(scene);
}

static void take_holder(struct kr_scene_holder *to, const struct kr_book_holder *from)
{
    *to = (struct kr_scene_holder){.state = from->state,
                                   .known = from->known,
                                   .cut = from->cut,
                                   .at_um = from->position_um,
                                   .has_target = from->cut != 0,
                                   .target_um = from->target_um,
                                   .has_deviation = from->cut != 0 && from->known == KR_MEASURED,
                                   .body_um = from->body_um};
    if (to->has_deviation)
        to->deviation_um = from->position_um - from->target_um;
}

static void take_rail(struct kr_scene *scene, const struct kr_book_changeover *from, uint16_t rail)
{
    struct kr_scene_rail *to = &scene->rail[rail];
    enum kr_role role[KR_RAILS_MAX];
    for (uint16_t i = 0; i < KR_RAILS_MAX; i++)
        role[i] = from->role[i] == KR_LOWER ? KR_LOWER : KR_UPPER;
    kr_scene_rail_name(to->name, role, rail);
    to->role = (uint8_t)role[rail];
    to->n_holders = from->n_holders[rail];
    for (uint16_t i = 0; i < to->n_holders; i++)
        take_holder(&to->holder[i], &from->holder[rail][i]);
}

void sheet_record_scene(const struct kr_history_changeover *from, const char *station, enum kr_length_unit unit,
                        struct kr_scene *scene)
{
    memset(scene, 0, sizeof *scene);
    scene->source = KR_SCENE_RECORD;
    scene->length_unit = unit;
    snprintf(scene->station, sizeof scene->station, "%s", station);
    scene->order_number = from->changeover.record.order_number;
    if (from->has_web)
        take_web(scene, &from->changeover.web);
    scene->n_rails = from->n_rails;
    for (uint16_t r = 0; r < scene->n_rails; r++)
        take_rail(scene, &from->changeover, r);
    kr_scene_bound(scene);
}
