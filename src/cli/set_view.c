#include "set_view.h"

#include <inttypes.h>
#include <stdio.h>

#include "kniferail/caution.h"

static uint16_t u16(const struct kr_image *image, enum kr_reg reg)
{
    return kr_get_u16(image, reg, 0, 0);
}

static void print_edited(const struct kr_image *image, uint16_t rail, uint16_t h)
{
    uint16_t state = kr_get_u16(image, KR_REG_HOLDER_STATE, rail, h),
             k = kr_get_u16(image, KR_REG_HOLDER_KNOWN, rail, h);
    uint16_t size = kr_get_u16(image, KR_REG_HOLDER_SIZE, rail, h);
    char offset[24], position[24], size_name[KR_SIZE_NAME_MAX];
    kr_get_size_name(image, size, size_name);
    kr_length_text(kr_get_um(image, KR_REG_HOLDER_OFFSET, rail, h), image->format.length_unit, offset, sizeof offset);
    kr_length_text(kr_get_um(image, KR_REG_HOLDER_POSITION, rail, h), image->format.length_unit, position,
                   sizeof position);
    printf("accepted: rail %u, holder %u: %s, size %u (%s), edge offset %s (%s), %" PRIu32 " m cut", rail + 1u, h + 1u,
           kr_number_word("HOLDER_STATE", state), size, size_name, offset,
           kr_number_word("HOLDER_EDGE", kr_get_u16(image, KR_REG_HOLDER_EDGE, rail, h)),
           (uint32_t)kr_get_i32(image, KR_REG_HOLDER_METRES, rail, h));
    if (state != KR_HOLDER_ABSENT && k != KR_UNKNOWN)
        printf("; at %s, %s", position, kr_number_word("HOLDER_KNOWN", k));
    printf("\n");
}

/* Returns the text for an accepted request that is not about a single holder; else NULL. */
static const char *of_no_holder(uint16_t kind, uint16_t holder)
{
    switch (kind) {
    case KR_EDIT_TEST_CUT:
    case KR_EDIT_TEST_CUT_MORE: return "this is a proposal; nothing is set before `kniferail set apply`";
    case KR_EDIT_APPLY: return "the proposed edge offsets are set";
    case KR_EDIT_DATUM: return "the rail's datum counts; a scan comes before the next move";
    case KR_EDIT_SHIFT: return "the next scan measures the rail's holders where it finds them";
    case KR_EDIT_FRAME:
    case KR_EDIT_FRAME_BACK:
    case KR_EDIT_SWITCH:
    case KR_EDIT_SWITCH_BACK: return "the rail's places are remembered; a scan comes before the next move";
    case KR_EDIT_TIMES:
    case KR_EDIT_TIMES_BACK: return "orders that are judged from now on are planned with these times";
    case KR_EDIT_BENCH:
    case KR_EDIT_FEELER: return holder ? NULL : "all edges of the rail are confirmed";
    case KR_EDIT_ENTER: return "the knife is in the ledger, on the shelf";
    case KR_EDIT_DISMOUNT: return holder ? NULL : "the ledger has the knife there";
    case KR_EDIT_REGROUND: return holder ? NULL : "the knife is on the shelf, and its metres begin anew";
    case KR_EDIT_BROKEN: return holder ? NULL : "the ledger has the knife as broken";
    case KR_EDIT_SCRAP: return holder ? NULL : "the ledger has the knife as scrapped";
    case KR_EDIT_TRIAL:
        return "knives may be lowered for a test cut, and for nothing else, until its strips are entered.\n"
               "Before they are lowered, lock out drives and air and look whether each upper blade stands beside its\n"
               "counter-knife at the side clearance: strips do not show that";
    default: return NULL;
    }
}

bool set_view_accepted(struct kr_client *client)
{
    static const enum kr_reg rows[] = {KR_REG_HOLDER_STATE,    KR_REG_HOLDER_KNOWN,  KR_REG_HOLDER_SIZE,
                                       KR_REG_HOLDER_POSITION, KR_REG_HOLDER_METRES, KR_REG_HOLDER_OFFSET,
                                       KR_REG_HOLDER_EDGE};
    uint16_t rail = u16(&client->image, KR_REG_EDITED_RAIL), holder = u16(&client->image, KR_REG_EDITED_HOLDER);
    uint16_t kind = u16(&client->image, KR_REG_EDITED_KIND);
    const char *whole = of_no_holder(kind, holder);
    if (whole != NULL) {
        printf("accepted: %s\n", whole);
        return true;
    }
    if (rail < 1 || rail > KR_RAILS_MAX || holder < 1 || holder > KR_HOLDERS_MAX)
        return true; /* this kind is never accepted */
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (!kr_client_row(client, rows[i], (uint16_t)(rail - 1), holder))
            return false;
    print_edited(&client->image, (uint16_t)(rail - 1), (uint16_t)(holder - 1));
    return true;
}

bool set_view_due(struct kr_client *client)
{
    if (!kr_client_block(client, KR_BLOCK_RUN) || !kr_client_block(client, KR_BLOCK_ABOUT))
        return false;
    uint32_t order = (uint32_t)kr_get_i32(&client->image, KR_REG_ORDER_IN_FORCE, 0, 0);
    if (order != 0 && !(u16(&client->image, KR_REG_STATUS) & KR_STATUS_VERIFIED))
        printf("order %" PRIu32 " is in force and not verified: the line may not run until an order is set up\n",
               order);
    return true;
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

static bool is_proposed(const struct kr_image *image, uint16_t h)
{
    return kr_get_u16(image, KR_REG_PROPOSED, 0, (uint16_t)(h / 16)) >> h % 16 & 1;
}

static void print_change(const struct kr_image *image, uint16_t h, int32_t from_um, int32_t to_um)
{
    char from[24], to[24], change[24];
    kr_length_text(from_um, image->format.length_unit, from, sizeof from);
    kr_length_text(to_um, image->format.length_unit, to, sizeof to);
    kr_length_text(to_um - from_um, image->format.length_unit, change, sizeof change);
    printf("%6u  %14s  %14s  %14s\n", h + 1u, from, to, change);
}

static void print_residuals(const struct kr_image *image, uint16_t n)
{
    char text[24];
    printf("strip   measured less proposed\n");
    for (uint16_t i = 0; i < n; i++) {
        kr_length_text(kr_get_um(image, KR_REG_RESIDUAL, 0, i), image->format.length_unit, text, sizeof text);
        printf("%5u  %14s\n", i + 1u, text);
    }
}

static void print_trust(const struct kr_image *image)
{
    char sd[24];
    uint16_t spare = u16(image, KR_REG_PROPOSAL_SPARE), cuts = u16(image, KR_REG_PROPOSAL_TEST_CUTS);
    if (spare == 0) {
        printf("from %u test cut%s, with no strip to spare: nothing shows how well they were measured\n", cuts,
               cuts == 1 ? "" : "s");
        return;
    }
    kr_length_text(kr_get_um(image, KR_REG_PROPOSAL_SD, 0, 0), image->format.length_unit, sd, sizeof sd);
    printf("from %u test cuts, %u strips to spare: one measured width scatters by %s (standard deviation)\n", cuts,
           spare, sd);
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
        if (is_proposed(image, h))
            print_change(image, h, kr_get_um(image, KR_REG_HOLDER_OFFSET, (uint16_t)(rail - 1), h),
                         kr_get_um(image, KR_REG_PROPOSED_OFFSET, 0, h));
    print_residuals(image, n_strips);
    print_trust(image);
    return true;
}

/* Prints the rail's holders that cut and whose edges are not proven, behind those printed before. Returns their
 * number. */
static uint16_t print_unproven(const struct kr_image *image, uint16_t rail, uint16_t before)
{
    uint16_t n = 0;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        uint16_t edge = kr_get_u16(image, KR_REG_HOLDER_EDGE, rail, h);
        if (kr_get_u16(image, KR_REG_HOLDER_CUT, rail, h) == 0 || (edge != KR_EDGE_UNPROVEN && edge != KR_EDGE_STRUCK))
            continue;
        printf("%s%u/%u", before + n == 0 ? "edges that are not proven: " : ", ", rail + 1u, h + 1u);
        n++;
    }
    return n;
}

bool set_view_unproven(struct kr_client *client, bool pairs_seen)
{
    const struct kr_image *image = &client->image;
    uint16_t n = 0, n_of_others = 0, slitting = u16(image, KR_REG_PROPOSAL_RAIL);
    if (!kr_client_block(client, KR_BLOCK_ABOUT))
        return false;
    for (uint16_t r = 0; r < u16(image, KR_REG_RAIL_COUNT) && r < KR_RAILS_MAX; r++) {
        if (!kr_client_row(client, KR_REG_HOLDER_CUT, r, KR_HOLDERS_MAX) ||
            !kr_client_row(client, KR_REG_HOLDER_EDGE, r, KR_HOLDERS_MAX))
            return false;
        uint16_t of_rail = print_unproven(image, r, n);
        n = (uint16_t)(n + of_rail);
        n_of_others = (uint16_t)(n_of_others + (r + 1 != slitting ? of_rail : 0));
    }
    printf("%s", n > 0 ? "\nMeasure them and confirm that: `kniferail set bench`, `kniferail set feeler`.\n" : "");
    if (n_of_others > 0 && !pairs_seen)
        printf("Strips prove edges of rail %u alone. They prove those of the other rails only together with the\n"
               "word pairs-looked-at, which states that a person has looked at each pair: with drives and air\n"
               "locked out, each upper blade stands beside its counter-knife at the side clearance, and the cut\n"
               "edges are clean. Once that is so, give `kniferail set trial` and the same strips again, with that\n"
               "word behind them.\n",
               slitting);
    return true;
}

bool set_view_before(struct kr_client *client, struct set_view_offsets *before)
{
    const struct kr_image *image = &client->image;
    *before = (struct set_view_offsets){0};
    if (!read_proposal(client))
        return false;
    before->rail = u16(image, KR_REG_PROPOSAL_RAIL);
    if (before->rail > KR_RAILS_MAX)
        before->rail = 0;
    for (uint16_t h = 0; before->rail > 0 && h < KR_HOLDERS_MAX; h++) {
        before->proposed[h] = is_proposed(image, h);
        before->um[h] = kr_get_um(image, KR_REG_HOLDER_OFFSET, (uint16_t)(before->rail - 1), h);
    }
    return true;
}

bool set_view_applied(struct kr_client *client, const struct set_view_offsets *before)
{
    if (before->rail == 0)
        return true;
    uint16_t rail = (uint16_t)(before->rail - 1);
    if (!kr_client_row(client, KR_REG_HOLDER_OFFSET, rail, KR_HOLDERS_MAX))
        return false;
    printf("rail %u\nholder             was         becomes          change\n", before->rail);
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        if (before->proposed[h])
            print_change(&client->image, h, before->um[h], kr_get_um(&client->image, KR_REG_HOLDER_OFFSET, rail, h));
    return true;
}

void set_view_caution(enum kr_edit_kind kind)
{
    switch (kind) {
    case KR_EDIT_REGRIND:
    case KR_EDIT_SWAP:
    case KR_EDIT_SIZE:
    case KR_EDIT_ABSENT:
    case KR_EDIT_INSERT:
    case KR_EDIT_DATUM:
    case KR_EDIT_BENCH:
    case KR_EDIT_FEELER:
    case KR_EDIT_TRIAL:
    case KR_EDIT_MOUNT:
    case KR_EDIT_DISMOUNT:
    case KR_EDIT_REGROUND:
    case KR_EDIT_BROKEN:
    case KR_EDIT_SCRAP: printf("%s", kr_caution_hands); break;
    default: break;
    }
}
