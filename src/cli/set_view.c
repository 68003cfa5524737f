#include "set_view.h"

#include <stdio.h>

#include "map_words.h"

static uint16_t u16(const struct kr_image *image, enum kr_reg reg)
{
    return kr_get_u16(image, reg, 0, 0);
}

void set_view_accepted(const struct kr_image *image)
{
    uint16_t kind = u16(image, KR_REG_EDITED_KIND);
    const struct kr_named_number *n = kr_map_named("EDIT_KIND", kind);
    printf("accepted: %s", n ? n->text : "this program knows no such kind");
    if (kind < KR_EDIT_TEST_CUT)
        printf(" (rail %u, holder %u)", u16(image, KR_REG_EDITED_RAIL), u16(image, KR_REG_EDITED_HOLDER));
    printf("\n");
}

static bool read_proposal(struct kr_client *client)
{
    if (!kr_client_block(client, KR_BLOCK_PROPOSAL) || !kr_client_block(client, KR_BLOCK_RUN))
        return false;
    uint16_t rail = u16(&client->image, KR_REG_PROPOSAL_RAIL);
    if (rail < 1 || rail > KR_RAILS_MAX)
        return true;
    return kr_client_row(client, KR_REG_HOLDER_OFFSET, (uint16_t)(rail - 1), KR_HOLDERS_MAX);
}

static void print_holder(const struct kr_image *image, uint16_t rail, uint16_t h)
{
    int32_t now_um = kr_get_um(image, KR_REG_HOLDER_OFFSET, (uint16_t)(rail - 1), h);
    int32_t new_um = kr_get_um(image, KR_REG_PROPOSED_OFFSET, 0, h);
    char now[24], proposed[24], change[24];
    kr_length_text(now_um, image->format.unit, now, sizeof now);
    kr_length_text(new_um, image->format.unit, proposed, sizeof proposed);
    kr_length_text(new_um - now_um, image->format.unit, change, sizeof change);
    printf("%6u  %14s  %14s  %14s\n", h + 1u, now, proposed, change);
}

static void print_residuals(const struct kr_image *image, uint16_t n)
{
    char text[24];
    printf("strip   measured less proposed\n");
    for (uint16_t i = 0; i < n; i++) {
        kr_length_text(kr_get_um(image, KR_REG_RESIDUAL, 0, i), image->format.unit, text, sizeof text);
        printf("%5u  %14s\n", i + 1u, text);
    }
}

static void print_trust(const struct kr_image *image)
{
    char sd[24];
    uint16_t spare = u16(image, KR_REG_PROPOSAL_SPARE), cuts = u16(image, KR_REG_PROPOSAL_TEST_CUTS);
    if (spare == 0) {
        printf("from %u test cut%s, with no strip to spare: nothing tells how well they were measured\n",
               cuts, cuts == 1 ? "" : "s");
        return;
    }
    kr_length_text(kr_get_um(image, KR_REG_PROPOSAL_SD, 0, 0), image->format.unit, sd, sizeof sd);
    printf("from %u test cuts, %u strips to spare: one measured width scatters by %s (standard deviation)\n",
           cuts, spare, sd);
}

bool set_view_proposal(struct kr_client *client, uint16_t n_strips)
{
    const struct kr_image *image = &client->image;
    if (!read_proposal(client))
        return false;
    uint16_t rail = u16(image, KR_REG_PROPOSAL_RAIL);
    if (rail < 1 || rail > KR_RAILS_MAX) {
        printf("nothing is proposed\n");
        return true;
    }
    printf("rail %u\nholder          is now        proposed          change\n", rail);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        if (kr_get_u16(image, KR_REG_PROPOSED, 0, (uint16_t)(h / 16)) >> h % 16 & 1)
            print_holder(image, rail, h);
    print_residuals(image, n_strips);
    print_trust(image);
    return true;
}
