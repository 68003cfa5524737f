#include "knives.h"

#include <stdio.h>
#include <string.h>

#include "kniferail/map.h"

static const struct kr_result yes = {.code = KR_OK};

static struct kr_result no(enum kr_code code, const struct kr_edit *edit)
{
    return (struct kr_result){.code = code, .rail = edit->rail, .item = edit->holder};
}

static struct kr_result figure(int32_t value, int32_t limit)
{
    return (struct kr_result){.code = KR_KNIFE_FIGURE, .value = value, .limit = limit};
}

/* ---- the request ------------------------------------------------------------------------------------------------- */

static void text(const struct kr_snapshot *edit, enum kr_reg reg, char *to, size_t size)
{
    for (size_t i = 0; i + 1 < size; i++) {
        uint16_t word = kr_snapshot_u16(edit, KR_BLOCK_EDIT, reg, (uint16_t)(i / 2));
        to[i] = (char)(i % 2 ? word & 0xFF : word >> 8);
    }
    to[size - 1] = '\0';
}

static int32_t length_um(const struct kr_snapshot *edit, enum kr_reg reg, struct kr_format format)
{
    return kr_um_from_nm(kr_snapshot_nm(edit, KR_BLOCK_EDIT, reg, 0, format));
}

void knife_decode(const struct kr_snapshot *edit, struct kr_format format, struct knife_asked *asked)
{
    memset(asked, 0, sizeof *asked);
    text(edit, KR_REG_EDIT_KNIFE, asked->name, sizeof asked->name);
    text(edit, KR_REG_EDIT_KNIFE_KIND, asked->kind_name, sizeof asked->kind_name);
    asked->diameter_um = length_um(edit, KR_REG_EDIT_KNIFE_DIAMETER, format);
    asked->thickness_um = length_um(edit, KR_REG_EDIT_KNIFE_THICKNESS, format);
    asked->metres = (uint32_t)kr_snapshot_i32(edit, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_METRES, 0, format);
    asked->given = kr_snapshot_u16(edit, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_GIVEN, 0);
    asked->to = kr_snapshot_u16(edit, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_TO, 0);
    asked->cause = kr_snapshot_u16(edit, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_CAUSE, 0);
    asked->fragments = kr_snapshot_u16(edit, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_FRAGMENTS, 0);
}

bool knife_own_kind(uint16_t kind)
{
    return kind >= KR_EDIT_ENTER && kind <= KR_EDIT_SCRAP;
}

bool knife_is_on_holder(const struct kr_edit *edit)
{
    return edit->kind == KR_EDIT_MOUNT || (edit->kind != KR_EDIT_ENTER && edit->rail != 0);
}

bool knife_asks_ledger(const struct kr_edit *edit)
{
    return knife_own_kind(edit->kind) && (edit->kind == KR_EDIT_MOUNT || !knife_is_on_holder(edit));
}

bool knife_comes_or_goes(const struct kr_edit *edit)
{
    return knife_own_kind(edit->kind) && edit->kind != KR_EDIT_REGROUND && knife_is_on_holder(edit);
}

bool knife_sets_offset(const struct kr_edit *edit)
{
    return edit->kind == KR_EDIT_MOUNT || (edit->kind == KR_EDIT_REGROUND && knife_is_on_holder(edit));
}

/* ---- may it be? ------------------------------------------------------------------------------------------------ */

/* Tells whether the text has only printable ASCII characters, followed by zeros. */
static bool is_text(const char *text, size_t size)
{
    size_t n = strlen(text);
    for (size_t i = 0; i < size; i++)
        if (i < n ? text[i] < ' ' || text[i] > '~' : text[i] != '\0')
            return false;
    return n > 0 && text[0] != ' ' && text[n - 1] != ' ';
}

static struct kr_result judge_dimension(int32_t um)
{
    return um < 0 || um > KR_KNIFE_DIMENSION_MAX ? figure(um, KR_KNIFE_DIMENSION_MAX) : yes;
}

static struct kr_result judge_dimensions(const struct knife_asked *asked)
{
    struct kr_result result = judge_dimension(asked->diameter_um);
    return result.code == KR_OK ? judge_dimension(asked->thickness_um) : result;
}

static struct kr_result judge_figures(const struct kr_edit *edit, const struct knife_asked *asked)
{
    if (asked->given > (KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES))
        return figure(asked->given, KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES);
    if (edit->kind == KR_EDIT_ENTER || edit->kind == KR_EDIT_REGROUND)
        return judge_dimensions(asked);
    if (edit->kind == KR_EDIT_DISMOUNT && asked->to != KR_KNIFE_SHELF && asked->to != KR_KNIFE_GRINDER)
        return figure(asked->to, KR_KNIFE_GRINDER);
    if (edit->kind == KR_EDIT_BROKEN && asked->cause > KR_CAUSE_CRACK)
        return figure(asked->cause, KR_CAUSE_CRACK);
    if (edit->kind == KR_EDIT_BROKEN && asked->fragments > KR_FRAGMENTS_MISSING)
        return figure(asked->fragments, KR_FRAGMENTS_MISSING);
    return yes;
}

static bool offset_is_possible(const struct kr_edit *edit)
{
    return edit->edge_offset_um <= KR_EDGE_OFFSET_MAX_UM && edit->edge_offset_um >= -KR_EDGE_OFFSET_MAX_UM;
}

struct kr_result knife_judge_asked(const struct kr_edit *edit, const struct knife_asked *asked)
{
    if (knife_asks_ledger(edit) && !is_text(asked->name, sizeof asked->name))
        return no(KR_KNIFE_NAME, edit);
    if (edit->kind == KR_EDIT_ENTER && !is_text(asked->kind_name, sizeof asked->kind_name))
        return no(KR_KNIFE_NAME, edit);
    if (asked->given & KR_KNIFE_GIVEN_OFFSET && !knife_sets_offset(edit) && !offset_is_possible(edit))
        return figure(edit->edge_offset_um, KR_EDGE_OFFSET_MAX_UM);
    return judge_figures(edit, asked);
}

void knife_take_edge(struct kr_edit *edit, const struct knife_asked *asked, const struct kr_knife_answer *ledger)
{
    if (edit->kind == KR_EDIT_MOUNT && !(asked->given & KR_KNIFE_GIVEN_OFFSET) && ledger->edge_known)
        edit->edge_offset_um = ledger->edge_um;
}

static struct kr_result elsewhere(const struct kr_edit *edit, const struct kr_knife_answer *ledger)
{
    struct kr_result result = no(KR_KNIFE_ELSEWHERE, edit);
    result.value = ledger->place;
    return result;
}

/* Judges a named knife that is on no holder. A broken one may be scrapped; no other event is possible after a knife's
 * end. */
static struct kr_result judge_named(const struct kr_edit *edit, const struct kr_knife_answer *ledger)
{
    if (edit->kind == KR_EDIT_ENTER)
        return ledger->place == KR_KNIFE_NONE ? yes : no(KR_KNIFE_KNOWN, edit);
    if (ledger->place == KR_KNIFE_NONE)
        return no(KR_KNIFE_UNKNOWN, edit);
    bool at_hand = ledger->place == KR_KNIFE_SHELF || ledger->place == KR_KNIFE_GRINDER ||
                   (ledger->place == KR_KNIFE_BROKEN && edit->kind == KR_EDIT_SCRAP);
    return at_hand ? yes : elsewhere(edit, ledger);
}

static struct kr_result judge_mount(const struct kr_edit *edit, const struct knife_asked *asked,
                                    const struct kr_holder_data *on, const struct kr_knife_answer *ledger)
{
    if (ledger->place == KR_KNIFE_NONE)
        return no(KR_KNIFE_UNKNOWN, edit);
    if (ledger->place != KR_KNIFE_SHELF)
        return elsewhere(edit, ledger);
    if (on->knife != 0)
        return no(KR_KNIFE_THERE, edit);
    return asked->given & KR_KNIFE_GIVEN_OFFSET || ledger->edge_known ? yes : no(KR_KNIFE_EDGE, edit);
}

struct kr_result knife_judge(const struct kr_edit *edit, const struct knife_asked *asked,
                             const struct kr_holder_data *on, const struct kr_knife_answer *ledger)
{
    if (on == NULL)
        return judge_named(edit, ledger);
    if (edit->kind == KR_EDIT_MOUNT)
        return judge_mount(edit, asked, on, ledger);
    if (on->knife == 0)
        return no(KR_NO_KNIFE, edit);
    bool needs_edge = edit->kind == KR_EDIT_REGROUND && !(asked->given & KR_KNIFE_GIVEN_OFFSET);
    return needs_edge ? no(KR_KNIFE_EDGE, edit) : yes;
}

/* ---- doing it -------------------------------------------------------------------------------------------------- */

static uint32_t metres_at_mount(const struct knife_asked *asked, const struct kr_knife_answer *ledger)
{
    return asked->given & KR_KNIFE_GIVEN_METRES ? asked->metres : ledger->metres;
}

static void take_off(struct kr_holder_data *data)
{
    data->knife = data->knife_kind = 0;
    data->metres = 0;
    data->edge = KR_EDGE_UNPROVEN;
    if (data->state == KR_HOLDER_IN)
        data->state = KR_HOLDER_OUT;
}

void knife_change(struct kr_holder_data *data, const struct kr_edit *edit, const struct knife_asked *asked,
                  const struct kr_knife_answer *ledger)
{
    switch (edit->kind) {
    case KR_EDIT_MOUNT:
        data->knife = ledger->knife;
        data->knife_kind = ledger->kind;
        data->metres = metres_at_mount(asked, ledger);
        if (data->state == KR_HOLDER_OUT)
            data->state = KR_HOLDER_IN;
        break;
    case KR_EDIT_REGROUND: data->metres = 0; break;
    case KR_EDIT_DISMOUNT:
    case KR_EDIT_BROKEN:
    case KR_EDIT_SCRAP: take_off(data); break;
    default: break;
    }
}

/* ---- the result -------------------------------------------------------------------------------------------------- */

static enum kr_knife_place place_after(const struct kr_edit *edit, const struct knife_asked *asked)
{
    switch (edit->kind) {
    case KR_EDIT_REGRIND:
    case KR_EDIT_MOUNT: return KR_KNIFE_HOLDER;
    case KR_EDIT_REGROUND: return knife_is_on_holder(edit) ? KR_KNIFE_HOLDER : KR_KNIFE_SHELF;
    case KR_EDIT_DISMOUNT: return (enum kr_knife_place)asked->to;
    case KR_EDIT_BROKEN: return KR_KNIFE_BROKEN;
    case KR_EDIT_SCRAP: return KR_KNIFE_SCRAPPED;
    default: return KR_KNIFE_SHELF;
    }
}

/* Copies the ledger's data of a named knife. */
static void tell_named(const struct kr_edit *edit, const struct knife_asked *asked,
                       const struct kr_knife_answer *ledger, struct kr_knife_event *event)
{
    event->knife = ledger->knife;
    event->metres = ledger->metres;
    if (edit->kind != KR_EDIT_ENTER)
        return;
    event->metres = asked->given & KR_KNIFE_GIVEN_METRES ? asked->metres : 0;
    snprintf(event->name, sizeof event->name, "%s", asked->name);
    snprintf(event->kind_name, sizeof event->kind_name, "%s", asked->kind_name);
}

static void tell_on_holder(const struct kr_edit *edit, const struct knife_asked *asked,
                           const struct kr_holder_data *before, const struct kr_knife_answer *ledger,
                           struct kr_knife_event *event)
{
    event->rail = edit->rail;
    event->holder = edit->holder;
    event->knife = before->knife;
    event->metres = before->metres;
    if (edit->kind != KR_EDIT_MOUNT)
        return;
    event->knife = ledger->knife;
    event->left_metres = before->metres;
    event->metres = metres_at_mount(asked, ledger);
}

/* The edge position of a knife is the value that was entered for it, or the offset of its holder, or the offset of the
 * holder when it came off. */
static void tell_edge(const struct kr_edit *edit, const struct knife_asked *asked, const struct kr_holder_data *before,
                      struct kr_knife_event *event)
{
    bool comes_off = before != NULL && (edit->kind == KR_EDIT_DISMOUNT || edit->kind == KR_EDIT_SWAP);
    bool is_set =
        edit->kind == KR_EDIT_REGRIND || edit->kind == KR_EDIT_MOUNT ||
        (asked->given & KR_KNIFE_GIVEN_OFFSET && (edit->kind == KR_EDIT_ENTER || edit->kind == KR_EDIT_REGROUND));
    event->edge_known = comes_off || is_set;
    if (event->edge_known)
        event->edge_um = comes_off ? before->edge_offset_um : edit->edge_offset_um;
}

bool knife_tell(const struct kr_edit *edit, const struct knife_asked *asked, const struct kr_holder_data *before,
                const struct kr_knife_answer *ledger, struct kr_knife_event *event)
{
    memset(event, 0, sizeof *event);
    if (!knife_own_kind(edit->kind) && edit->kind != KR_EDIT_REGRIND && edit->kind != KR_EDIT_SWAP)
        return false;
    event->kind = edit->kind;
    event->to = (uint16_t)place_after(edit, asked);
    if (before == NULL)
        tell_named(edit, asked, ledger, event);
    else
        tell_on_holder(edit, asked, before, ledger, event);
    tell_edge(edit, asked, before, event);
    event->cause = edit->kind == KR_EDIT_BROKEN ? asked->cause : KR_CAUSE_UNKNOWN;
    event->fragments = edit->kind == KR_EDIT_BROKEN ? asked->fragments : KR_FRAGMENTS_NOT_SOUGHT;
    if (edit->kind == KR_EDIT_ENTER || edit->kind == KR_EDIT_REGROUND) {
        event->diameter_um = asked->diameter_um;
        event->thickness_um = asked->thickness_um;
    }
    return true;
}
