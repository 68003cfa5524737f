#include "scene_rig.h"

#include <check.h>
#include <stdlib.h>

#define BODY_UM  25400 /* 1 in */
#define PITCH_UM 40000
#define LOW_UM   50000

static void take_widths(struct kr_order *o, uint16_t holders, enum kr_length_unit unit)
{
    static const int64_t mm_nm[] = {60000000, 60000000, 75500000}, inch_nm[] = {63500000, 63500000, 76200000};
    o->n_slits = (uint16_t)(holders * 3 / 4 - 1 > 0 ? holders * 3 / 4 - 1 : 1);
    for (uint16_t i = 0; i < o->n_slits; i++) {
        o->width_nm[i] = unit == KR_LENGTH_INCH ? inch_nm[i / 2 % 3] : mm_nm[i / 2 % 3];
        o->web_width_nm += o->width_nm[i];
    }
    o->web_width_nm += 2 * INT64_C(12700000);
    o->order_number = 7;
}

static void take_rail(struct scene_case *c, uint16_t r, int32_t length_um)
{
    struct kr_rail_geometry *rail = &c->request.geometry.rail[r];
    *rail = (struct kr_rail_geometry){.role = r ? KR_LOWER : KR_UPPER,
                                      .n_holders = c->holders,
                                      .min_um = LOW_UM,
                                      .max_um = LOW_UM + length_um,
                                      .empty = {1000000, 2000000},
                                      .drag = {400000, 1000000},
                                      .dock_us = 700000,
                                      .undock_us = 600000};
    c->request.rail[r].carriage_um = 10000;
    for (uint16_t i = 0; i < c->holders; i++)
        c->request.rail[r].holder[i] =
            (struct kr_holder){.position_um = LOW_UM + i * PITCH_UM, .holder_size = 1, .state = KR_HOLDER_IN};
    if (c->holders > 12) {
        c->request.rail[r].holder[c->holders - 1].state = KR_HOLDER_OUT;
        c->request.rail[r].holder[0].state = KR_HOLDER_FIXED;
    }
}

void scene_rig_plan(struct scene_case *c, uint16_t holders, enum kr_length_unit unit)
{
    struct kr_plan_request *q = &c->request;
    *c = (struct scene_case){.holders = holders, .unit = unit};
    take_widths(&q->order, holders, unit);
    int32_t length_um = kr_um_from_nm(q->order.web_width_nm) + (holders / 4 + 4) * PITCH_UM;
    q->geometry = (struct kr_geometry){.n_rails = 2,
                                       .rails_together = true,
                                       .n_sizes = 1,
                                       .size_spacing_um = {BODY_UM},
                                       .web_centre_um = LOW_UM + length_um / 2,
                                       .web_max_nm = INT64_C(20000000000),
                                       .trim_max_nm = 100000000,
                                       .tolerance_max_um = 1000};
    for (uint16_t r = 0; r < 2; r++)
        take_rail(c, r, length_um);
    void *workspace = malloc(kr_plan_workspace_size());
    ck_assert_ptr_nonnull(workspace);
    struct kr_result result = kr_plan_make(q, workspace, &c->plan);
    free(workspace);
    ck_assert_int_eq(result.code, KR_OK);
}

/* Two references lie before the holders and two after them, with different distances from either end. */
static int32_t reference_um(const struct scene_case *c, uint16_t i)
{
    static const int32_t beyond_um[] = {-150000, -80000, 60000, 150000};
    return (i < 2 ? LOW_UM : c->request.geometry.rail[0].max_um) + beyond_um[i];
}

static uint16_t references(const struct scene_case *c)
{
    return c->holders == SCENE_RIG_WITH_REFERENCES ? 4 : 0;
}

void scene_rig_scene(const struct scene_case *c, struct kr_scene *scene)
{
    static const int64_t scan_us[] = {12500000, 12500000};
    kr_scene_of_plan(scene, "brindle-2", c->unit, &c->request, &c->plan, scan_us, scan_us);
    for (uint16_t r = 0; r < 2; r++) {
        scene->rail[r].n_references = references(c);
        for (uint16_t i = 0; i < references(c); i++)
            scene->rail[r].reference[i] = (struct kr_scene_reference){.at_um = reference_um(c, i)};
    }
    kr_scene_bound(scene);
}

static void set_holder(const struct scene_case *c, struct kr_image *image, uint16_t r, uint16_t i)
{
    const struct kr_plan_holder *p = &c->plan.rail[r].holder[i];
    int32_t off_um = i % 4 == 3 ? -20 : 0;
    uint16_t known = i + 1 == c->holders ? KR_UNKNOWN
                                         : (uint16_t)(i % 7 == 5   ? KR_PLACED
                                                      : i % 7 == 6 ? KR_REMEMBERED
                                                                   : KR_MEASURED);
    kr_image_set_um(image, KR_REG_HOLDER_POSITION, r, i, p->target_um + off_um);
    kr_image_set_um(image, KR_REG_HOLDER_TARGET, r, i, p->target_um);
    kr_image_set_um(image, KR_REG_HOLDER_DEVIATION, r, i, p->cut && known == KR_MEASURED ? off_um : 0);
    kr_image_set_u16(image, KR_REG_HOLDER_CUT, r, i, p->cut);
    kr_image_set_u16(image, KR_REG_HOLDER_KNOWN, r, i, known);
    kr_image_set_u16(image, KR_REG_HOLDER_STATE, r, i, c->request.rail[r].holder[i].state);
    kr_image_set_u16(image, KR_REG_HOLDER_SIZE, r, i, 1);
}

static void set_cuts(const struct kr_cuts *cuts, const struct kr_cut_registers *of, struct kr_image *image)
{
    kr_image_set_u16(image, of->count, 0, 0, cuts->n_cuts);
    kr_image_set_um(image, of->web[0], 0, 0, cuts->web_left_um);
    kr_image_set_um(image, of->web[1], 0, 0, cuts->web_right_um);
    for (int side = 0; side < 2; side++)
        kr_image_set_um(image, of->trim[side], 0, 0, kr_um_from_nm(cuts->trim_nm[side]));
    for (uint16_t i = 0; i < cuts->n_cuts; i++)
        kr_image_set_um(image, of->line, 0, i, cuts->cut_um[i]);
}

static void set_references(const struct scene_case *c, struct kr_image *image, uint16_t r)
{
    kr_image_set_u16(image, KR_REG_REFERENCES, r, 0, references(c));
    kr_image_set_u16(image, KR_REG_REFERENCES_GOOD, r, 0, r ? 0xF : 0xB);
    for (uint16_t i = 0; i < references(c); i++)
        kr_image_set_um(image, KR_REG_REFERENCE_PLACE, r, i, reference_um(c, i));
}

void scene_rig_stage(const struct scene_case *c, const struct kr_order *order, struct kr_image *image)
{
    struct kr_cuts cuts;
    ck_assert_int_eq(kr_cuts_make(&c->request.geometry, order, &cuts).code, KR_OK);
    kr_image_set_32(image, KR_REG_ORDER_STAGED, 0, 0, order->order_number);
    set_cuts(&cuts, &kr_cuts_staged, image);
}

void scene_rig_image(const struct scene_case *c, struct kr_image *image)
{
    kr_image_clear(image, (struct kr_format){.length_unit = c->unit});
    kr_image_set_text(image, KR_REG_STATION_NAME, "brindle-2");
    kr_image_set_u16(image, KR_REG_RAIL_COUNT, 0, 0, 2);
    kr_image_set_u16(image, KR_REG_SIZE_COUNT, 0, 0, 1);
    kr_image_set_um(image, KR_REG_SIZE_SPACING, 0, 0, BODY_UM);
    kr_image_set_32(image, KR_REG_ORDER_IN_FORCE, 0, 0, 7);
    set_cuts(&c->plan.cuts, &kr_cuts_in_force, image);
    for (uint16_t r = 0; r < 2; r++) {
        kr_image_set_u16(image, KR_REG_RAIL_ROLE, r, 0, r);
        kr_image_set_u16(image, KR_REG_RAIL_HOLDERS, r, 0, c->holders);
        kr_image_set_u16(image, KR_REG_RAIL_LINK, r, 0, 1);
        kr_image_set_um(image, KR_REG_CARRIAGE_POSITION, r, 0, 10000);
        for (uint16_t i = 0; i < c->holders; i++)
            set_holder(c, image, r, i);
        set_references(c, image, r);
    }
}
