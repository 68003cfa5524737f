/* Scenes for the painters' tests: plans of an invented shear station with 3, 40 or 128 holders on each of two rails,
 * and the registers of a station that has set up such a plan. */
#ifndef SCENE_RIG_H
#define SCENE_RIG_H

#include "kniferail/scene.h"

struct scene_case {
    uint16_t holders; /* of each rail */
    enum kr_length_unit unit;
    struct kr_plan_request request;
    struct kr_plan plan;
};

#define SCENE_RIG_WITH_REFERENCES 40 /* rails with so many holders have four references each, other rails none */

/* Makes an order with slits of three widths in turn, as many as three quarters of the holders can cut. With more than a
 * dozen holders, one is out of service and one is fixed. */
void scene_rig_plan(struct scene_case *c, uint16_t holders, enum kr_length_unit unit);
void scene_rig_scene(const struct scene_case *c, struct kr_scene *scene);

/* Makes registers in which each holder stands at its place, except for every fourth one, which is off by -20 um. The
 * holders are measured, placed and remembered in turn, and the last one of a rail is unknown. The third reference of
 * the upper rail was not found. */
void scene_rig_image(const struct scene_case *c, struct kr_image *image);

/* Adds another order, which is staged. */
void scene_rig_stage(const struct scene_case *c, const struct kr_order *order, struct kr_image *image);

#endif
