/* Jobs that run to their end, and orders: the functions that the steps with whole jobs share. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_moves.h"

#define JOB_MS     3600000 /* the longest that a job may take */
#define VERDICT_MS 10000
#define DRAWS      50

/* ---- a job to its end ------------------------------------------------------------------------------------------ */

bool commission_job_end(struct commission *c, struct kr_job_seen *seen)
{
    char line[COMMISSION_LINE_MAX];
    int64_t began = commission_now_ms();
    do {
        if (!commission_look_again(c))
            return false;
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    } while (!commission_job_has_ended(c) && commission_now_ms() - began < JOB_MS);
    seen->complete = commission_unit_state(c) == KR_STATE_COMPLETE;
    seen->took_ms = (int32_t)(commission_now_ms() - began);
    seen->alarm_code = seen->complete ? 0 : commission_alarm(c, seen->alarm, sizeof seen->alarm);
    return !c->failed;
}

bool commission_job_run(struct commission *c, const struct commission_job *job, struct kr_job_seen *seen)
{
    return commission_start(c, job) && commission_job_end(c, seen);
}

/* ---- holders --------------------------------------------------------------------------------------------------- */

static uint16_t n_holders(const struct commission *c, uint16_t rail)
{
    return c->station->station.geometry.rail[rail].n_holders;
}

bool commission_holders(struct commission *c, uint16_t rail)
{
    static const enum kr_reg rows[] = {KR_REG_HOLDER_STATE, KR_REG_HOLDER_KNOWN,     KR_REG_HOLDER_POSITION,
                                       KR_REG_HOLDER_CUT,   KR_REG_HOLDER_DEVIATION, KR_REG_HOLDER_SIZE};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (!kr_client_row(&c->client, rows[i], rail, n_holders(c, rail))) {
            fprintf(stderr, "kniferail commission: %s\n", c->client.error);
            c->failed = true;
            return false;
        }
    return true;
}

bool commission_holder_serves(const struct commission *c, uint16_t rail, uint16_t holder)
{
    return kr_get_u16(&c->client.image, KR_REG_HOLDER_STATE, rail, holder) == KR_HOLDER_IN;
}

int32_t commission_holder_um(const struct commission *c, uint16_t rail, uint16_t holder)
{
    return kr_get_um(&c->client.image, KR_REG_HOLDER_POSITION, rail, holder);
}

static uint16_t size_of(const struct commission *c, uint16_t rail, uint16_t holder)
{
    return kr_get_u16(&c->client.image, KR_REG_HOLDER_SIZE, rail, holder);
}

/* Returns the limit on that side, which is set by the next holder or by the rail. */
static int32_t limit_um(const struct commission *c, uint16_t rail, uint16_t holder, int side)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    const struct kr_rail_geometry *r = &g->rail[rail];
    for (int h = holder + side; h >= 0 && h < r->n_holders; h += side) {
        if (kr_get_u16(&c->client.image, KR_REG_HOLDER_STATE, rail, (uint16_t)h) == KR_HOLDER_ABSENT)
            continue;
        return commission_holder_um(c, rail, (uint16_t)h) -
               side * kr_spacing_um(g, (uint8_t)size_of(c, rail, holder), (uint8_t)size_of(c, rail, (uint16_t)h));
    }
    return side < 0 ? r->min_um : r->max_um;
}

int32_t commission_room_beside_um(const struct commission *c, uint16_t rail, uint16_t holder, int side)
{
    return side * (limit_um(c, rail, holder, side) - commission_holder_um(c, rail, holder));
}

int32_t commission_room_um(const struct commission *c, uint16_t rail, uint16_t holder, int32_t by_um)
{
    int32_t at = commission_holder_um(c, rail, holder);
    int32_t right = commission_room_beside_um(c, rail, holder, 1),
            left = commission_room_beside_um(c, rail, holder, -1);
    int32_t most = right >= left ? right : left;
    if (most <= 0)
        return at;
    return at + (right >= left ? 1 : -1) * (most > by_um ? by_um : most);
}

/* ---- orders ---------------------------------------------------------------------------------------------------- */

/* A linear congruential generator, with constants from memory (Numerical Recipes), so that the seed in the protocol
 * gives the same orders again. */
static uint32_t drawn(uint32_t *seed, uint32_t below)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (uint32_t)((uint64_t)*seed * below >> 32);
}

static uint16_t fewest_holders(const struct commission *c)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    uint16_t fewest = KR_HOLDERS_MAX;
    for (uint16_t r = 0; r < g->n_rails; r++) {
        uint16_t n = 0;
        for (uint16_t h = 0; h < g->rail[r].n_holders; h++)
            n = (uint16_t)(n + commission_holder_serves(c, r, h));
        fewest = n < fewest ? n : fewest;
    }
    return fewest;
}

/* Draws slits of random widths: no two knives come nearer than the widest spacing, and the trims are in the middle of
 * what the chutes take. many: as many slits as the machine has room and knives for. Returns how many slits there are;
 * 0: the machine has no room for any. */
static uint16_t draw_widths(const struct commission *c, bool many, uint32_t *seed, int32_t width_um[], int32_t *web_um)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    int32_t spacing = 0, trim = (int32_t)((g->trim_min_nm + g->trim_max_nm) / 2000);
    for (uint16_t i = 0; i < g->n_sizes; i++)
        spacing = g->size_spacing_um[i] > spacing ? g->size_spacing_um[i] : spacing;
    int32_t room = (int32_t)(g->web_max_nm / 1000) - 2 * trim;
    int32_t most = spacing > 0 && room > 0 ? room / (spacing + spacing / 4) : 0;
    uint16_t holders = fewest_holders(c);
    if (holders < 2 || most < 1)
        return 0;
    most = most > holders - 1 ? holders - 1 : most;
    uint16_t n = (uint16_t)(many ? most : 1 + (int32_t)drawn(seed, (uint32_t)most));
    int32_t spare = room / n - (spacing + spacing / 4);
    *web_um = 2 * trim;
    for (uint16_t i = 0; i < n; i++) {
        width_um[i] = spacing + spacing / 4 + (int32_t)drawn(seed, (uint32_t)(spare > 0 ? spare : 1));
        *web_um += width_um[i];
    }
    return n;
}

static void put(const struct commission *c, uint16_t *words, enum kr_reg reg, uint16_t index, uint32_t value)
{
    uint16_t *at = words + (kr_reg_address(reg, 0, index) - kr_reg_address(KR_REG_ORDER_NUMBER, 0, 0));
    bool low_first = c->client.image.format.low_word_first;
    at[low_first ? 0 : 1] = (uint16_t)(value & 0xFFFFu);
    at[low_first ? 1 : 0] = (uint16_t)(value >> 16);
}

static bool write_order(struct commission *c, uint32_t number, const int32_t width_um[], uint16_t n, int32_t web_um)
{
    enum { WORDS = 20 + 2 * KR_SLITS_MAX };
    static uint16_t words[WORDS];
    const struct kr_format *format = &c->client.image.format;
    memset(words, 0, sizeof words);
    put(c, words, KR_REG_ORDER_NUMBER, 0, number);
    words[kr_reg_address(KR_REG_SLIT_COUNT, 0, 0) - kr_reg_address(KR_REG_ORDER_NUMBER, 0, 0)] = n;
    put(c, words, KR_REG_WEB_WIDTH, 0, (uint32_t)kr_count_from_nm(1000LL * web_um, format->length_unit));
    for (uint16_t i = 0; i < n; i++)
        put(c, words, KR_REG_WIDTH, i, (uint32_t)kr_count_from_nm(1000LL * width_um[i], format->length_unit));
    return kr_client_write(&c->client, kr_reg_address(KR_REG_ORDER_NUMBER, 0, 0), words, (uint16_t)(20 + 2 * n));
}

static bool hand_over(struct commission *c, uint16_t *number)
{
    uint16_t last = kr_get_u16(&c->client.image, KR_REG_VERDICT_NUMBER, 0, 0);
    *number = last == UINT16_MAX ? 1 : (uint16_t)(last + 1);
    const uint16_t words[3] = {kr_get_u16(&c->client.image, KR_REG_SESSION, 0, 0), KR_REQUEST_STAGE, *number};
    return kr_client_write(&c->client, kr_reg_address(KR_REG_REQUEST_SESSION, 0, 0), words, 3) &&
           (!c->station->whole_by_both_numbers ||
            kr_client_write(&c->client, kr_reg_address(KR_REG_REQUEST_NUMBER_END, 0, 0), number, 1));
}

/* Waits for the verdict on the request. */
static bool judged(struct commission *c, uint16_t number, bool *accepted)
{
    for (int64_t until = commission_now_ms() + VERDICT_MS; commission_now_ms() < until;) {
        if (!commission_look_again(c))
            return false;
        if (kr_get_u16(&c->client.image, KR_REG_VERDICT_NUMBER, 0, 0) == number &&
            kr_get_u16(&c->client.image, KR_REG_REQUEST_BUSY, 0, 0) == 0) {
            *accepted = kr_get_u16(&c->client.image, KR_REG_VERDICT_CODE, 0, 0) == KR_OK;
            return true;
        }
    }
    fprintf(stderr, "kniferail commission: the station does not answer a request\n");
    c->failed = true;
    return false;
}

static bool stage(struct commission *c, bool many, uint32_t *seed, uint32_t number, bool *accepted)
{
    int32_t width_um[KR_SLITS_MAX], web_um = 0;
    uint16_t request, n = draw_widths(c, many, seed, width_um, &web_um);
    *accepted = false;
    if (n == 0) {
        commission_say("No random order can be drawn: each rail needs two holders in service at least, and the widest "
                       "web needs room for a slit between its trims.");
        return false;
    }
    if (!commission_confirm_control(c) || !commission_look(c))
        return false;
    if (!write_order(c, number, width_um, n, web_um) || !hand_over(c, &request)) {
        fprintf(stderr, "kniferail commission: %s\n", c->client.error);
        c->failed = true;
        return false;
    }
    return judged(c, request, accepted);
}

/* many: the first half of the draws has as many slits as there is room and knives for. */
static bool stage_drawn(struct commission *c, bool many, uint32_t *seed, uint32_t *number)
{
    bool accepted = false;
    for (uint16_t r = 0; r < c->station->station.geometry.n_rails; r++)
        if (!commission_holders(c, r))
            return false;
    for (int i = 0; i < DRAWS && !accepted; i++) {
        *number = 1 + drawn(seed, 999999999u);
        if (!stage(c, many && i < DRAWS / 2, seed, *number, &accepted))
            return false;
    }
    if (!accepted)
        commission_say("Of %d random orders the station accepted none; kniferail status shows the last reason.", DRAWS);
    return accepted;
}

bool commission_stage_random(struct commission *c, uint32_t *seed, uint32_t *number)
{
    return stage_drawn(c, false, seed, number);
}

/* ---- a changeover ---------------------------------------------------------------------------------------------- */

bool commission_read_record(struct commission *c, struct kr_changeover_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    uint16_t n_rails = c->station->station.geometry.n_rails;
    if (!kr_client_block(&c->client, KR_BLOCK_RECORD) || !kr_client_row(&c->client, KR_REG_RECORD_TOLD, 0, 1)) {
        fprintf(stderr, "kniferail commission: %s\n", c->client.error);
        c->failed = true;
        return false;
    }
    seen->told_ms = kr_get_i32(image, KR_REG_RECORD_TOLD, 0, 0);
    seen->job.took_ms = kr_get_i32(image, KR_REG_RECORD_TOTAL, 0, 0);
    seen->verified = commission_status(c, KR_STATUS_VERIFIED);
    for (uint16_t r = 0; r < n_rails; r++) {
        int32_t worst_um = abs(kr_get_um(image, KR_REG_RECORD_WORST, 0, r));
        seen->worst_um = worst_um > seen->worst_um ? worst_um : seen->worst_um;
        seen->n_moves = (uint16_t)(seen->n_moves + kr_get_u16(image, KR_REG_RECORD_MOVES, 0, r));
        seen->n_retries = (uint16_t)(seen->n_retries + kr_get_u16(image, KR_REG_RECORD_RETRIES, 0, r));
        if (!commission_holders(c, r))
            return false;
    }
    return true;
}

bool commission_need_order(struct commission *c, struct kr_job_seen *job)
{
    struct kr_changeover_seen seen;
    uint32_t number, seed = (uint32_t)commission_now_ms();
    if (!commission_look(c))
        return false;
    *job = (struct kr_job_seen){.complete = true};
    if (commission_status(c, KR_STATUS_VERIFIED))
        return true;
    if (!commission_ask_enter(c,
                              "No order is set up and verified. A random one with many slits is set up at reduced "
                              "speed, with all carriages. Nobody is in the zone, and a hand is at the emergency stop. "
                              "Press Enter.") ||
        !stage_drawn(c, true, &seed, &number) || !commission_changeover(c, number, false, &seen))
        return false;
    *job = seen.job;
    return commission_stop(c);
}

bool commission_changeover(struct commission *c, uint32_t number, bool production, struct kr_changeover_seen *seen)
{
    const struct commission_job job = {.job = KR_JOB_CHANGEOVER, .production = production, .order = number};
    *seen = (struct kr_changeover_seen){.production = production,
                                        .tolerance_um = c->station->station.geometry.tolerance_um};
    if (!commission_job_run(c, &job, &seen->job))
        return false;
    return !seen->job.complete || commission_read_record(c, seen);
}
