/* The stations that come with the project, as their files have them, against these figures. Each figure is common
 * practice, no published source; times are the machine's own, from Start to verified.
 *
 *  figure                        limit                     where it is tried
 *  place of a knife              0.2032 mm either way      every knife of every order (in 0.001 mm: 203)
 *  changeover of 10 knives       2 min                     small-shear.cfg: 2 rails, 5 cuts
 *                                                          framed-shear.cfg: the same, with reference flags
 *  changeover of 40 knives       10 min, as for 100        razor.cfg: 1 rail, 40 cuts
 *  changeover of 100 knives      10 min                    wide-shear.cfg: 2 rails, 50 cuts */
#include <stdio.h>

#include "draw.h"
#include "example_rig.h"
#include "suite.h"

#define KNIFE_UM 203

static void begin(struct rig *rig, const char *path)
{
    example_defaults(rig, path);
    rig->plan_cycles = 10;
    rig->book_cycles = 5;
    rig_begin(rig);
}

/* n slits side by side over most of the web, of many widths, n + 1 cuts. */
static void order(struct rig *rig, struct draw *d, uint32_t number, uint16_t n, int32_t least_percent)
{
    int32_t widths_um[KR_SLITS_MAX], web_um = (int32_t)(rig->config.geometry.web_max_nm / 1000), sum_um = 0;
    int32_t trims_um = (int32_t)((rig->config.geometry.trim_min_nm + rig->config.geometry.trim_max_nm) / 2000);
    for (uint16_t i = 0; i < n; i++) {
        widths_um[i] = (web_um - 2 * trims_um) / n * draw_between(d, least_percent, 100) / 100;
        sum_um += widths_um[i];
    }
    rig_order(rig, number, sum_um + 2 * trims_um, widths_um, n);
    ck_assert_int_eq(rig_request(rig, KR_REQUEST_STAGE), KR_OK);
}

static uint32_t knives_moved(const struct rig *rig)
{
    uint32_t n = 0;
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        n += rig_u16(rig, KR_REG_RECORD_MOVES, 0, r);
    return n;
}

struct figure {
    const char *path;
    uint16_t cuts, knives;
    int32_t limit_s;
    int32_t least_percent; /* the narrowest slit, of the widest */
};
static const struct figure figures[] = {
    {"config/small-shear.cfg", 5, 10, 120, 80},
    {"config/razor.cfg", 40, 40, 600, 93},
    {"config/wide-shear.cfg", 50, 100, 600, 97}, /* fifty idle holders a rail have to find room between the cuts */
    {"config/framed-shear.cfg", 5, 10, 120, 80},
};

/* Twenty orders after each other, each from where the one before left the knives. */
START_TEST(a_changeover_is_in_time_and_every_knife_in_its_place)
{
    const struct figure *f = &figures[_i];
    struct draw d = {(uint64_t)_i + 1};
    struct rig rig;
    int orders = f->knives > 10 ? 4 : 20;
    int32_t longest_s = 0, worst_um = 0;
    uint32_t most_moved = 0;
    begin(&rig, f->path);
    for (int k = 0; k < orders; k++) {
        order(&rig, &d, (uint32_t)k + 1, (uint16_t)(f->cuts - 1), f->least_percent);
        int64_t from_us = rig.time_us;
        rig_start_job(&rig, KR_JOB_CHANGEOVER);
        rig_until_complete(&rig);
        int32_t took_s = (int32_t)((rig.time_us - from_us) / 1000000);
        ck_assert(rig_status_has(&rig, KR_STATUS_VERIFIED));
        ck_assert_int_le(took_s, f->limit_s);
        ck_assert_int_le(rig_worst_edge_um(&rig), KNIFE_UM);
        ck_assert(!rig.false_measured);
        ck_assert_ptr_null(sim_machine_collision(&rig.machine));
        longest_s = took_s > longest_s ? took_s : longest_s;
        worst_um = rig_worst_edge_um(&rig) > worst_um ? rig_worst_edge_um(&rig) : worst_um;
        most_moved = knives_moved(&rig) > most_moved ? knives_moved(&rig) : most_moved;
        rig_reset(&rig);
    }
    ck_assert_uint_ge(most_moved, f->knives * 8u / 10); /* it was the whole set that was moved */
    printf("%s: seed %d, %d orders of %d cuts, at most %u knives moved: longest %d s (limit %d), worst knife "
           "%.3f mm\n",
           f->path, _i + 1, orders, f->cuts, (unsigned)most_moved, longest_s, f->limit_s, worst_um / 1e3);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("figures");
    TCase *tc = suite_case(suite, "figures");
    tcase_add_loop_test(tc, a_changeover_is_in_time_and_every_knife_in_its_place, 0,
                        (int)(sizeof figures / sizeof figures[0]));
    return suite;
}
