/* Makes a scene of a plan: the present places of the holders, and their targets. */
#include <stdio.h>
#include <string.h>

#include "kniferail/scene.h"

static void take_web(struct kr_scene *scene, const struct kr_order *order, const struct kr_cuts *cuts)
{
    scene->n_cuts = cuts->n_cuts;
    memcpy(scene->cut_um, cuts->cut_um, sizeof scene->cut_um);
    scene->edge_um[0] = cuts->web_left_um;
    scene->edge_um[1] = cuts->web_right_um;
    memcpy(scene->trim_nm, cuts->trim_nm, sizeof scene->trim_nm);
    scene->n_slits = order->n_slits;
    for (uint16_t i = 0; i < order->n_slits; i++) {
        struct kr_scene_slit *slit = &scene->slit[i];
        int left = i - cuts->first_slit_edge, right = left + 1;
        slit->left_um = left < 0 ? cuts->web_left_um : cuts->cut_um[left];
        slit->right_um = right >= cuts->n_cuts ? cuts->web_right_um : cuts->cut_um[right];
        slit->width_nm = order->width_nm[i];
    }
}

static void take_holders(struct kr_scene_rail *to, const struct kr_plan_request *request, const struct kr_rail_now *now,
                         const struct kr_plan_rail *plan)
{
    for (uint16_t i = 0; i < to->n_holders; i++) {
        const struct kr_holder *h = &now->holder[i];
        int32_t body_um = request->geometry.size_spacing_um[h->holder_size - 1];
        to->holder[i] = (struct kr_scene_holder){.state = h->state,
                                                 .known = KR_MEASURED,
                                                 .cut = plan->holder[i].cut,
                                                 .at_um = h->position_um,
                                                 .has_target = h->state != KR_HOLDER_ABSENT,
                                                 .target_um = plan->holder[i].target_um,
                                                 .body_um = body_um};
    }
}

/* A move consists of empty travel, docking, drag and undocking. The time before the drag that is not docking is the way
 * there. */
static void take_moves(struct kr_scene_rail *to, const struct kr_rail_geometry *geometry,
                       const struct kr_plan_rail *plan)
{
    int32_t carriage_um = to->carriage_um;
    to->n_moves = plan->n_moves;
    to->moves_us = plan->time_us;
    for (uint16_t m = 0; m < plan->n_moves; m++) {
        const struct kr_move *from = &plan->move[m];
        int64_t empty_us = kr_way_time_us(geometry, (int64_t)from->from_um - carriage_um, geometry->empty);
        to->move[m] = (struct kr_scene_move){.holder = from->holder,
                                             .after = {from->after[0], from->after[1]},
                                             .reason = plan->holder[from->holder - 1].reason,
                                             .from_um = from->from_um,
                                             .to_um = from->to_um,
                                             .start_us = from->start_us,
                                             .end_us = from->end_us,
                                             .drag_us = from->start_us + empty_us + geometry->dock_us};
        carriage_um = from->to_um;
    }
}

static void take_rail(struct kr_scene *scene, const struct kr_plan_request *request, const struct kr_plan *plan,
                      uint16_t rail)
{
    const struct kr_geometry *g = &request->geometry;
    struct kr_scene_rail *to = &scene->rail[rail];
    enum kr_role role[KR_RAILS_MAX];
    for (uint16_t i = 0; i < g->n_rails; i++)
        role[i] = g->rail[i].role;
    kr_scene_rail_name(to->name, role, rail);
    to->role = (uint8_t)g->rail[rail].role;
    to->n_holders = g->rail[rail].n_holders;
    to->has_limits = to->has_carriage = true;
    to->min_um = g->rail[rail].min_um;
    to->max_um = g->rail[rail].max_um;
    to->carriage_um = request->rail[rail].carriage_um;
    take_holders(to, request, &request->rail[rail], &plan->rail[rail]);
    take_moves(to, &g->rail[rail], &plan->rail[rail]);
}

void kr_scene_of_plan(struct kr_scene *scene, const char *station, enum kr_length_unit unit,
                      const struct kr_plan_request *request, const struct kr_plan *plan, const int64_t *scan_us,
                      const int64_t *verify_us)
{
    memset(scene, 0, sizeof *scene);
    scene->source = KR_SCENE_PLAN;
    scene->length_unit = unit;
    snprintf(scene->station, sizeof scene->station, "%s", station);
    scene->order_number = request->order.order_number;
    if (plan->cuts.n_cuts > 0)
        take_web(scene, &request->order, &plan->cuts);
    scene->n_rails = request->geometry.n_rails;
    scene->rails_together = request->geometry.rails_together;
    for (uint16_t r = 0; r < scene->n_rails; r++) {
        take_rail(scene, request, plan, r);
        scene->rail[r].scan_us = scan_us ? scan_us[r] : 0;
        scene->rail[r].verify_us = verify_us ? verify_us[r] : 0;
    }
    kr_scene_bound(scene);
}
