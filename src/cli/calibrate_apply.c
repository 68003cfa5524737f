/* kniferail calibrate --apply: sets the result at the running station by a maintenance request. */
#include <stdio.h>
#include <string.h>

#include "calibrate_cmd.h"
#include "cli.h"
#include "set_frame.h"

static struct kr_client client; /* large */

static bool fail(void)
{
    fprintf(stderr, "kniferail calibrate: %s\n", client.error);
    return false;
}

/* False: there is no such rail, which was printed. */
static bool has_rail(const struct calibrate_job *job)
{
    uint16_t n = kr_get_rails(&client.image);
    if (job->rail <= n)
        return true;
    fprintf(stderr, "kniferail calibrate: there is no rail %u; the last rail is %u\n", job->rail, n);
    return false;
}

/* The frame includes the scale that references have found, which the new setting replaces, at the temperature that
 * counts. The datum that references have found is not included: a frame is relative to the drive's position with this
 * datum. */
static bool read_frame(const struct calibrate_job *job, struct kr_frame *told, struct kr_frame *corrected,
                       int32_t *expansion_ppb)
{
    uint16_t rail = (uint16_t)(job->rail - 1);
    if (!kr_client_block(&client, KR_BLOCK_ABOUT))
        return fail();
    if (!has_rail(job))
        return false;
    if (!set_frame_read(&client, job->rail, told) || !kr_client_row(&client, KR_REG_SCALE_CORRECTION, rail, 1) ||
        !kr_client_row(&client, KR_REG_FRAME_EXPANSION, 0, 1))
        return fail();
    *expansion_ppb = kr_get_i32(&client.image, KR_REG_FRAME_EXPANSION, 0, 0);
    if (*expansion_ppb < -KR_EXPANSION_MAX_PPB || *expansion_ppb > KR_EXPANSION_MAX_PPB)
        *expansion_ppb = 0; /* a value from the wire may be anything */
    *corrected = *told;
    corrected->scale_ppb += kr_get_i32(&client.image, KR_REG_SCALE_CORRECTION, rail, 0);
    *corrected = kr_frame_expanded(corrected, *expansion_ppb);
    return true;
}

bool calibrate_frame_in_force(struct calibrate_job *job)
{
    struct kr_frame told;
    if (!kr_client_open(&client, &job->address))
        return fail();
    bool good = read_frame(job, &told, &job->before, &job->expansion_ppb);
    kr_client_close(&client);
    return good;
}

struct kr_frame calibrate_to_set(const struct calibrate_job *job)
{
    return kr_frame_expanded(&job->frame, kr_expansion_back_ppb(job->expansion_ppb));
}

static bool same_frame(const struct kr_frame *a, const struct kr_frame *b)
{
    return a->offset_um == b->offset_um && a->scale_ppb == b->scale_ppb && a->n_points == b->n_points &&
           memcmp(a->point, b->point, a->n_points * sizeof a->point[0]) == 0;
}

static bool tell_verdict(const struct calibrate_job *job, const struct kr_frame *was)
{
    char sentence[KR_SENTENCE_MAX];
    struct kr_result result = edit_result(&client.image);
    if (result.code == KR_OK) {
        printf("\naccepted: the rail's places are remembered; a scan comes before the next move\n");
        return set_frame_changed(&client, job->rail, was) || fail();
    }
    kr_result_text(&result, client.image.format.length_unit, sentence, sizeof sentence);
    fprintf(stderr, "kniferail calibrate: refused: %s. %s\n", sentence, kr_code_remedy(result.code));
    return false;
}

static bool ask(const struct calibrate_job *job)
{
    static struct edit_block block;
    struct kr_frame told, corrected, at_20;
    int32_t expansion_ppb;
    if (!read_frame(job, &told, &corrected, &expansion_ppb))
        return false;
    if (!same_frame(&corrected, &job->before)) {
        fprintf(stderr, "kniferail calibrate: the rail's frame has changed since the readings were begun, so that they "
                        "belong to the frame before\n");
        return false;
    }
    memset(&block, 0, sizeof block);
    block.format = client.image.format;
    *edit_at(&block, KR_REG_EDIT_KIND, 0) = KR_EDIT_FRAME;
    *edit_at(&block, KR_REG_EDIT_RAIL, 0) = job->rail;
    at_20 = kr_frame_expanded(&job->frame, kr_expansion_back_ppb(expansion_ppb));
    set_frame_fill(&block, &at_20);
    return edit_ask(&client, &block) ? tell_verdict(job, &told) : fail();
}

bool calibrate_apply(const struct calibrate_job *job)
{
    if (job->bad_point)
        return false; /* this was printed with the table */
    if (!kr_client_open(&client, &job->address))
        return fail();
    bool good = ask(job);
    kr_client_close(&client);
    return good;
}
