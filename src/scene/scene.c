#include "kniferail/scene.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void kr_scene_rail_name(char name[KR_SCENE_NAME_MAX], const enum kr_role role[], uint16_t rail)
{
    int same = 1;
    for (uint16_t i = 0; i < rail; i++)
        same += role[i] == role[rail];
    const char *word = kr_number_word("RAIL_ROLE", (int)role[rail]);
    if (same > 1)
        snprintf(name, KR_SCENE_NAME_MAX, "%.10s%c", word, '0' + same);
    else
        snprintf(name, KR_SCENE_NAME_MAX, "%.10s", word);
}

static void hold(struct kr_scene *scene, int64_t um)
{
    if (um < scene->low_um)
        scene->low_um = um > INT32_MIN ? (int32_t)um : INT32_MIN;
    if (um > scene->high_um)
        scene->high_um = um < INT32_MAX ? (int32_t)um : INT32_MAX;
}

static void hold_body(struct kr_scene *scene, int32_t at_um, int32_t body_um)
{
    hold(scene, (int64_t)at_um - body_um / 2);
    hold(scene, (int64_t)at_um + body_um / 2);
}

static void hold_rail(struct kr_scene *scene, const struct kr_scene_rail *rail)
{
    if (rail->has_limits) {
        hold(scene, rail->min_um);
        hold(scene, rail->max_um);
    }
    if (rail->has_carriage)
        hold(scene, rail->carriage_um);
    for (uint16_t i = 0; i < rail->n_references; i++)
        hold(scene, rail->reference[i].at_um);
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        if (h->state == KR_HOLDER_ABSENT)
            continue;
        if (h->known != KR_UNKNOWN)
            hold_body(scene, h->at_um, h->body_um);
        if (h->has_target)
            hold_body(scene, h->target_um, h->body_um);
    }
}

void kr_scene_bound(struct kr_scene *scene)
{
    scene->low_um = INT32_MAX;
    scene->high_um = INT32_MIN;
    if (scene->n_cuts > 0) {
        hold(scene, scene->edge_um[0]);
        hold(scene, scene->edge_um[1]);
    }
    for (uint16_t r = 0; r < scene->n_rails; r++)
        hold_rail(scene, &scene->rail[r]);
    if (scene->low_um > scene->high_um)
        scene->low_um = scene->high_um = 0;
    if (scene->low_um == scene->high_um)
        hold(scene, (int64_t)scene->low_um + KR_NM_PER_UM);
}

int32_t kr_scene_worst_um(const struct kr_scene_rail *rail, uint16_t *holder)
{
    int32_t worst_um = 0;
    *holder = 0;
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        if (!h->has_deviation || (*holder != 0 && abs(h->deviation_um) <= abs(worst_um)))
            continue;
        worst_um = h->deviation_um;
        *holder = (uint16_t)(i + 1);
    }
    return worst_um;
}

uint16_t kr_scene_run(const struct kr_scene *scene, uint16_t first)
{
    uint16_t n = 1;
    while (first + n < scene->n_slits && scene->slit[first + n].width_nm == scene->slit[first].width_nm)
        n++;
    return n;
}

/* Converts to counts of a millionth of a millimetre or, rounded, of an inch. */
int kr_scene_length(int64_t nm, enum kr_length_unit unit, char *text, size_t size)
{
    char digits[48];
    int64_t whole_nm = unit == KR_LENGTH_INCH ? KR_NM_PER_INCH : 1000000;
    int64_t rest = nm < 0 ? -nm : nm, whole = rest / whole_nm;
    int64_t part =
        unit == KR_LENGTH_INCH ? (rest % whole_nm * 10000 + whole_nm / 2) / whole_nm : (rest % whole_nm + 500) / 1000;
    int places = unit == KR_LENGTH_INCH ? 4 : 3;
    if (part == (unit == KR_LENGTH_INCH ? 10000 : 1000)) {
        part = 0;
        whole++;
    }
    int n = snprintf(digits, sizeof digits, "%" PRId64 ".%0*" PRId64, whole, places, part);
    while (digits[n - 1] == '0')
        digits[--n] = '\0';
    if (digits[n - 1] == '.')
        digits[--n] = '\0';
    return snprintf(text, size, "%s%s", nm < 0 && strcmp(digits, "0") != 0 ? "-" : "", digits);
}

int kr_scene_run_text(const struct kr_scene *scene, uint16_t first, char *text, size_t size)
{
    char width[48];
    uint16_t n = kr_scene_run(scene, first);
    kr_scene_length(scene->slit[first].width_nm, scene->length_unit, width, sizeof width);
    return n > 1 ? snprintf(text, size, "%u x %s", n, width) : snprintf(text, size, "%s", width);
}

int64_t kr_scene_ruler_step(const struct kr_scene *scene, int most)
{
    int64_t span_nm = ((int64_t)scene->high_um - scene->low_um) * KR_NM_PER_UM;
    int64_t step_nm = scene->length_unit == KR_LENGTH_INCH ? KR_NM_PER_INCH / 10 : 1000000;
    static const int times[] = {1, 2, 5};
    for (int64_t ten = 1;; ten *= 10)
        for (int i = 0; i < 3; i++)
            if (span_nm / (step_nm * ten * times[i]) < (most > 1 ? most : 1))
                return step_nm * ten * times[i];
}
