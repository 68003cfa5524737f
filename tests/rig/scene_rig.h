/* Scenes for the painters' tests: plans of a made-up shear station with 3, 40 or 128 holders on each of two rails,
 * and the registers of a station that has set such a plan up. */
#ifndef SCENE_RIG_H
#define SCENE_RIG_H

#include "kniferail/scene.h"

struct scene_case {
    uint16_t holders; /* of each rail */
    enum kr_length_unit unit;
    struct kr_plan_request request;
    struct kr_plan plan;
};

#define SCENE_RIG_WITH_REFERENCES 40 /* rails of so many holders have four references each, the others none */

/* Slits of three widths by turns, as many as three quarters of the holders can cut; one holder is out of service and
 * one fixed where there are more than a dozen. */
void scene_rig_plan(struct scene_case *c, uint16_t holders, enum kr_length_unit unit);
void scene_rig_scene(const struct scene_case *c, struct kr_scene *scene);

/* Each holder stands at its place, every fourth off it by -20 um, and is known in turns as measured, placed,
 * remembered, and, the last one of a rail, not at all. */
/* The third reference of the upper rail was not found. */
void scene_rig_image(const struct scene_case *c, struct kr_image *image);

/* The registers of another order, which is staged. */
void scene_rig_stage(const struct scene_case *c, const struct kr_order *order, struct kr_image *image);

#endif
