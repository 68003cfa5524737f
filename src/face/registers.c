#include "registers.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "wire.h"

void face_registers_init(struct face_registers *r, const struct face_layout *layout,
                         const struct kr_face_config *config, const struct kr_face_station *station,
                         struct face_notes *notes)
{
    memset(r, 0, sizeof *r);
    r->layout = layout;
    r->config = config;
    r->station = station;
    r->index = (uint16_t)(station - config->station);
    r->notes = notes;
    r->control.group = FACE_NO_GROUP;
    assert(kr_block_info(KR_BLOCK_LINE)->words == KR_FACE_LINE_WORDS &&
           kr_block_info(KR_BLOCK_JOG)->words == KR_FACE_JOG_WORDS);
    for (int id = 0; id < KR_BLOCK_COUNT; id++) {
        if (kr_block_info((enum kr_block_id)id)->depth == 0)
            continue;
        assert(r->n_boxes < FACE_BOXES_MAX);
        face_mailbox_init(&r->box[r->n_boxes++], (enum kr_block_id)id);
    }
}

/* Returns the mailbox of a block; every block with a depth has one. */
static struct face_mailbox *box_of(struct face_registers *r, enum kr_block_id block)
{
    for (uint16_t i = 0; i < r->n_boxes; i++)
        if (r->box[i].block == block)
            return &r->box[i];
    return NULL;
}

/* ---- reading ------------------------------------------------------------------------------------------- */

static void put_words(uint8_t *out, const uint16_t *word, uint32_t n)
{
    for (uint32_t i = 0; i < n; i++)
        put16(out + 2 * (size_t)i, word[i]);
}

static uint16_t own_word(const struct face_registers *r, const struct face_client *client, uint32_t address)
{
    const struct face_layout *layout = r->layout;
    if (address == layout->own_role)
        return (uint16_t)face_client_right(client, r->index);
    if (address == layout->own_control)
        return r->control.state == KR_CONTROL_HELD && face_control_is_of(&r->control, client);
    if (address == layout->control_held)
        return (uint16_t)r->control.state;
    if (address >= layout->control_holder)
        return r->control.holder_text[address - layout->control_holder];
    return r->input[address];
}

void face_read_input(const struct face_registers *r, const struct face_client *client, uint32_t first, uint32_t n,
                     uint8_t *out)
{
    put_words(out, r->input + first, n);
    uint32_t from = first > r->layout->own_first ? first : r->layout->own_first;
    uint32_t to = first + n < r->layout->own_end ? first + n : r->layout->own_end;
    for (uint32_t address = from; address < to; address++)
        put16(out + 2 * (size_t)(address - first), own_word(r, client, address));
    from = first > r->layout->odd_first ? first : r->layout->odd_first;
    to = first + n < r->layout->odd_end ? first + n : r->layout->odd_end;
    for (uint32_t address = from; address < to; address++)
        put16(out + 2 * (size_t)(address - first),
              face_odd_word(r->odd, client, r->station->format.low_word_first, (uint16_t)address, r->notes->now_ms));
}

void face_read_holding(const struct face_registers *r, const struct face_client *client, uint32_t first, uint32_t n,
                       uint8_t *out)
{
    if (first >= KR_MAP_WINDOW)
        face_read_input(r, client, first - KR_MAP_WINDOW, n, out);
    else
        put_words(out, r->holding + first, n);
}

static void read_bits(const uint16_t *words, const struct face_bits *rows, uint16_t n_rows, uint32_t first, uint32_t n,
                      uint8_t *out)
{
    const struct face_bits *row = NULL;
    memset(out, 0, (n + 7) / 8); /* the unused high bits of the last byte are 0 (APP 6.1) */
    for (uint32_t i = 0; i < n; i++) {
        uint32_t address = first + i;
        if (row == NULL || address >= (uint32_t)row->first + row->bits)
            row = face_layout_bits(rows, n_rows, address);
        uint32_t offset = address - row->first;
        unsigned bit = words[row->word + offset / 16] >> offset % 16 & 1u;
        out[i / 8] = (uint8_t)(out[i / 8] | bit << i % 8);
    }
}

void face_read_coils(const struct face_registers *r, uint32_t first, uint32_t n, uint8_t *out)
{
    read_bits(r->holding, r->layout->coil, r->layout->n_coils, first, n, out);
}

void face_read_discrete(const struct face_registers *r, uint32_t first, uint32_t n, uint8_t *out)
{
    read_bits(r->input, r->layout->discrete, r->layout->n_discrete, first, n, out);
}

/* ---- control ------------------------------------------------------------------------------------------- */

/* The client in control states itself that the line stands and the guards are closed, so the statements of the client
 * before it must not count any longer. */
static void zero_line(struct face_registers *r)
{
    const struct kr_block_info *line = kr_block_info(KR_BLOCK_LINE), *jog = kr_block_info(KR_BLOCK_JOG);
    memset(r->holding + line->first, 0, line->words * sizeof r->holding[0]);
    memset(r->holding + jog->first, 0, jog->words * sizeof r->holding[0]);
    r->line = (struct face_line){0};
}

/* A Start from the last client in control must not begin under the next one. */
static void drop_commands(struct face_registers *r)
{
    for (uint16_t i = 0; i < r->n_boxes; i++) {
        if (r->box[i].block != KR_BLOCK_COMMAND)
            continue;
        uint16_t dropped = face_mailbox_drop(&r->box[i]);
        if (dropped > 0)
            face_note(r->notes, LOG_WARNING, "station %s: %u commands of the last client in control were dropped",
                      r->station->name, dropped);
    }
}

/* Writes the holder of control as the map shows it: two characters in each register. */
static void write_holder(const struct face_control *control, char text[2 * FACE_HOLDER_WORDS + 1])
{
    for (int i = 0; i < FACE_HOLDER_WORDS; i++)
        put16((uint8_t *)text + 2 * (size_t)i, control->holder_text[i]);
    text[(size_t)2 * FACE_HOLDER_WORDS] = '\0';
}

void face_registers_free_control(struct face_registers *r, const char *why)
{
    char holder[2 * FACE_HOLDER_WORDS + 1];
    write_holder(&r->control, holder);
    face_audit(r->notes, KR_AUDIT_CONTROL, r->index + 1u, "gateway", 0, "lost", "control of %s: %s", holder, why);
    face_control_free(&r->control);
    zero_line(r);
    drop_commands(r);
    face_note(r->notes, LOG_WARNING, "station %s: control is lost: %s", r->station->name, why);
}

static void note_control(struct face_registers *r, const struct face_client *client, const char *what)
{
    face_note(r->notes, LOG_NOTICE, "station %s: %s port %u %s control", r->station->name, client->text, client->port,
              what);
    face_audit(r->notes, KR_AUDIT_CONTROL, r->index + 1u, client->text, client->port, "", "%s control", what);
}

static void take_control(struct face_registers *r, const struct face_client *client)
{
    face_control_give(&r->control, client, KR_CONTROL_HELD, r->config->group);
    zero_line(r);
    note_control(r, client, "takes");
}

static void take_control_over(struct face_registers *r, const struct face_client *client)
{
    face_control_give(&r->control, client, KR_CONTROL_PASSING, r->config->group);
    zero_line(r);
    drop_commands(r);
    note_control(r, client, "takes over");
}

/* The effect of an allowed write on control. request: the value written to ACCESS; 0 for a write to a CONTROL block. */
enum control_change { STAYS, IS_TAKEN, IS_RELEASED, IS_TAKEN_OVER };

static enum control_change control_change(const struct face_registers *r, const struct face_client *client,
                                          enum kr_access access, uint16_t request)
{
    bool is_free = r->control.state == KR_CONTROL_FREE, is_own = face_control_is_of(&r->control, client);
    if (access == KR_ACCESS_CONTROL)
        return is_free ? IS_TAKEN : STAYS;
    if (access != KR_ACCESS_READ)
        return STAYS;
    switch (request) {
    case KR_ACCESS_REQUEST_TAKE: return is_free ? IS_TAKEN : STAYS;
    case KR_ACCESS_REQUEST_RELEASE: return is_own ? IS_RELEASED : STAYS;
    case KR_ACCESS_REQUEST_TAKE_OVER: return is_free ? IS_TAKEN : is_own ? STAYS : IS_TAKEN_OVER;
    default: return STAYS;
    }
}

static void change_control(struct face_registers *r, const struct face_client *client, enum control_change change)
{
    switch (change) {
    case STAYS: break;
    case IS_TAKEN: take_control(r, client); break;
    case IS_TAKEN_OVER: take_control_over(r, client); break;
    case IS_RELEASED:
        face_control_free(&r->control);
        zero_line(r);
        note_control(r, client, "releases");
        break;
    }
}

/* ---- writing ------------------------------------------------------------------------------------------- */

struct write {
    const struct kr_block_info *block;
    struct face_mailbox *box;               /* the mailbox to which this write posts, or NULL */
    uint16_t number;                        /* the value written to the block's trigger; 0: none */
    uint16_t whole[KR_MAP_BLOCK_WORDS_MAX]; /* the block after the write */
};

static void as_it_will_stand(const struct face_registers *r, struct write *w, uint16_t first, uint16_t n,
                             const uint16_t *word)
{
    memcpy(w->whole, r->holding + w->block->first, w->block->words * sizeof w->whole[0]);
    for (uint16_t i = 0; i < n; i++)
        w->whole[first - w->block->first + i] = word[i] & r->layout->kept[first + i];
}

static bool writes_to(enum kr_reg reg, uint16_t first, uint16_t n)
{
    uint16_t address = kr_reg_address(reg, 0, 0);
    return address >= first && address < first + n;
}

/* Tells whether the write hands over an order that must be whole, that is, the numbers at both of its ends must agree.
 * The write that makes them agree hands the order over, whichever of the two numbers it contains. */
static bool makes_whole(const struct write *w, uint16_t first, uint16_t n)
{
    if (!writes_to(KR_REG_REQUEST_NUMBER, first, n) && !writes_to(KR_REG_REQUEST_NUMBER_END, first, n))
        return false;
    return kr_block_u16(w->whole, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER, 0) ==
           kr_block_u16(w->whole, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER_END, 0);
}

static void plan_write(struct face_registers *r, struct write *w, uint16_t first, uint16_t n, const uint16_t *word)
{
    enum kr_block_id id = (enum kr_block_id)r->layout->block[first];
    w->block = kr_block_info(id);
    w->box = NULL;
    w->number = 0;
    if (w->block->trigger == KR_REG_NONE)
        return;
    as_it_will_stand(r, w, first, n, word);
    bool hands_over = id == KR_BLOCK_ORDER && r->station->whole_by_both_numbers
                          ? makes_whole(w, first, n)
                          : writes_to(w->block->trigger, first, n);
    if (!hands_over)
        return;
    uint16_t trigger = kr_reg_address(w->block->trigger, 0, 0);
    bool carried = writes_to(w->block->trigger, first, n); /* some triggers have an effect but keep no value */
    w->number = carried ? word[trigger - first] : w->whole[trigger - w->block->first];
    if (w->number != 0 && w->block->depth > 0)
        w->box = box_of(r, id);
}

static uint8_t may_write(const struct face_registers *r, const struct face_client *client, const struct write *w)
{
    enum kr_right right = face_client_right(client, r->index);
    switch (w->block->access) {
    case KR_ACCESS_READ: return face_control_may_request(&r->control, client, right, w->number);
    case KR_ACCESS_CONTROL: /* a program that only goes on writing a heartbeat must not take control */
        return face_control_may_command(&r->control, client, right,
                                        r->config->control_by_first_write && w->block->trigger != KR_REG_NONE);
    case KR_ACCESS_HALT: return face_control_may_halt(right);
    case KR_ACCESS_MAINTAIN: return right == KR_RIGHT_MAINTAIN ? 0 : MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    }
    return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
}

/* A mask that does not belong to a block with a trigger is one of the permissives. */
static void note_changes(struct face_registers *r, const struct face_client *client, uint16_t first, uint16_t n,
                         const uint16_t *word)
{
    for (uint16_t i = 0; i < n; i++) {
        enum kr_reg watched = (enum kr_reg)r->layout->watched[first + i];
        if (watched != KR_REG_NONE && r->holding[first + i] != word[i])
            face_changes_note(&r->changes, r->notes, r->station->name, client, kr_reg_info(watched)->name,
                              r->holding[first + i], word[i]);
    }
}

static int64_t value_in(const struct face_registers *r, const struct kr_reg_info *info, const uint16_t *word)
{
    if (kr_reg_words(info->type) == 1)
        return info->type == KR_TYPE_I16 ? (int16_t)word[0] : word[0];
    bool low_first = r->station->format.low_word_first;
    uint32_t value = (uint32_t)word[low_first ? 1 : 0] << 16 | word[low_first ? 0 : 1];
    return info->type == KR_TYPE_I32 ? (int32_t)value : (int64_t)value;
}

/* Logs all of the block except its arrays. */
static void note_handover(struct face_registers *r, const struct face_client *client, const struct write *w)
{
    char text[FACE_NOTE_BYTES];
    int used = 0;
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT && used < (int)sizeof text; reg++) {
        const struct kr_reg_info *info = kr_reg_info((enum kr_reg)reg);
        unsigned offset = (unsigned)info->address - w->block->first;
        if (info->area != KR_AREA_HOLDING || info->n != 1 || info->address < w->block->first ||
            offset >= w->block->words)
            continue;
        used += snprintf(text + used, sizeof text - (size_t)used, "%s%s %" PRIi64, used > 0 ? ", " : "", info->name,
                         value_in(r, info, w->whole + offset));
    }
    face_note_limited(r->notes, FACE_NOTE_HANDOVER, client->host, LOG_NOTICE, "station %s: %s port %u writes %s",
                      r->station->name, client->text, client->port, text);
}

/* Registers without a row keep no value, so that they read 0 like everywhere else in the map. */
static void store(struct face_registers *r, uint16_t first, uint16_t n, const uint16_t *word)
{
    for (uint16_t i = 0; i < n; i++)
        r->holding[first + i] = word[i] & r->layout->kept[first + i];
}

static uint8_t refuse(struct face_registers *r, const struct face_client *client, const struct write *w,
                      uint8_t exception)
{
    face_note_limited(r->notes, FACE_NOTE_REFUSED, client->host, LOG_NOTICE,
                      "station %s: %s port %u may not write block %s now: exception %02X", r->station->name,
                      client->text, client->port, w->block->name, exception);
    char answer[16];
    snprintf(answer, sizeof answer, "exception %02X", exception);
    face_audit(r->notes, KR_AUDIT_REFUSED, r->index + 1u, client->text, client->port, answer, "writes block %s",
               w->block->name);
    return exception;
}

/* ---- halts --------------------------------------------------------------------------------------------- */

/* If there are several in one cycle, the strongest counts, so that a Suspend can't replace an Abort. The station
 * reports its result. */
static void halt(struct face_registers *r, const struct face_client *client, uint16_t command)
{
    face_mailbox_overtake(box_of(r, KR_BLOCK_COMMAND));
    if (kr_halt_strength(command) <= kr_halt_strength(r->halt.command)) {
        if (strcmp(r->halt.origin, client->text) != 0)
            face_note_limited(r->notes, FACE_NOTE_HALT, client->host, LOG_NOTICE,
                              "station %s: %s port %u writes HALT %u; HALT %u of %s is as strong or stronger",
                              r->station->name, client->text, client->port, command, r->halt.command, r->halt.origin);
        return;
    }
    r->halt.command = command;
    snprintf(r->halt.origin, sizeof r->halt.origin, "%s", client->text);
}

static void take_halt(struct face_registers *r, struct kr_face_take *take)
{
    take->halt = r->halt.command;
    memcpy(take->halt_origin, r->halt.origin, sizeof take->halt_origin);
    memset(&r->halt, 0, sizeof r->halt);
}

/* A command that stops always counts, however old it is. */
static bool is_old(const struct write *w, const struct face_client *client)
{
    uint16_t at = (uint16_t)(kr_reg_address(KR_REG_COMMAND, 0, 0) - w->block->first);
    bool stops = w->box->block == KR_BLOCK_COMMAND && kr_halt_strength(w->whole[at]) > 0;
    return !stops && face_mailbox_is_old(w->box, w->whole, client->text);
}

/* Checks everything before it changes anything. */
uint8_t face_write(struct face_registers *r, const struct face_client *client, uint16_t first, uint16_t n,
                   const uint16_t *word)
{
    struct write w;
    plan_write(r, &w, first, n, word);
    uint8_t exception = may_write(r, client, &w);
    if (exception == 0 && w.block->access == KR_ACCESS_HALT && w.number != 0 && kr_halt_strength(w.number) == 0)
        exception = MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE;
    if (exception != 0)
        return refuse(r, client, &w, exception);
    enum face_post post = w.box == NULL || is_old(&w, client) ? FACE_POST_AGAIN : face_mailbox_judge(w.box, w.whole);
    if (post == FACE_POST_FULL)
        return refuse(r, client, &w, MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY);
    enum control_change change = control_change(r, client, w.block->access, w.number);
    if (change != STAYS && !face_note_may(r->notes, FACE_NOTE_CONTROL, client->host))
        return refuse(r, client, &w, MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY);

    change_control(r, client, change);
    if (w.block->access == KR_ACCESS_HALT && w.number != 0)
        halt(r, client, w.number);
    if (w.block->trigger == KR_REG_NONE)
        note_changes(r, client, first, n, word);
    store(r, first, n, word);
    face_line_written(&r->line, r->holding, first, n);
    if (post == FACE_POST_OK) {
        if (!face_mailbox_repeats(w.box, w.whole, client->text))
            note_handover(r, client, &w);
        face_mailbox_post(w.box, w.whole, client->text);
    }
    return 0;
}

uint8_t face_write_coils(struct face_registers *r, const struct face_client *client, const struct face_bits *row,
                         uint16_t first, uint16_t n, const uint8_t *bits)
{
    uint16_t word[KR_MAP_HOLDING_WORDS];
    unsigned offset = (unsigned)first - row->first;
    uint16_t first_word = (uint16_t)(row->word + offset / 16);
    uint16_t n_words = (uint16_t)(row->word + (offset + n - 1u) / 16 - first_word + 1);
    memcpy(word, r->holding + first_word, n_words * sizeof word[0]);
    for (uint16_t i = 0; i < n; i++) {
        unsigned at = offset % 16 + i;
        uint16_t mask = (uint16_t)(1u << at % 16);
        bool on = bits[i / 8] >> i % 8 & 1;
        word[at / 16] = (uint16_t)(on ? word[at / 16] | mask : word[at / 16] & ~mask);
    }
    return face_write(r, client, first_word, n_words, word);
}

/* Refusals because of the client's right, or because something waits, are logged where they are decided. */
static bool is_told(const struct face_request *request, uint8_t exception)
{
    return request->writes &&
           (exception == MODBUS_EXCEPTION_ILLEGAL_FUNCTION || exception == MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY);
}

void face_registers_judge(struct face_registers *r, const struct face_client *client, const uint8_t *pdu, size_t n,
                          uint8_t exception)
{
    struct face_request request = face_request_of(pdu, n);
    bool may_control = face_right_controls(face_client_right(client, r->index));
    enum kr_odd_reason reason = face_odd_reason(r->layout, r->holding, &request, exception, may_control);
    if (reason == KR_ODD_NONE)
        return;
    bool is_other = face_odd_keep(r->odd, client, &request, reason, exception, r->notes->now_ms);
    if (is_other && !is_told(&request, exception))
        face_note_limited(r->notes, FACE_NOTE_ODD, client->host, LOG_NOTICE,
                          "station %s: %s port %u, function %u, address %u, quantity %u: %s", r->station->name,
                          client->text, client->port, request.function, request.first, request.n,
                          kr_named("ODD_REASON", (int)reason)->text);
}

void face_registers_tick(struct face_registers *r)
{
    face_changes_tick(&r->changes, r->notes, r->station->name);
}

/* ---- a cycle ------------------------------------------------------------------------------------------- */

void face_registers_take(struct face_registers *r, struct kr_face_take *take)
{
    face_mailbox_take(box_of(r, KR_BLOCK_ORDER), &take->request, take->request_origin);
    face_mailbox_take(box_of(r, KR_BLOCK_COMMAND), &take->command, take->command_origin);
    face_mailbox_take(box_of(r, KR_BLOCK_EDIT), &take->edit, take->edit_origin);
    take_halt(r, take);
    face_line_take(&r->line, r->holding, take->line);
    memcpy(take->jog, r->holding + kr_block_info(KR_BLOCK_JOG)->first, sizeof take->jog);
    take->control_held = r->control.state == KR_CONTROL_HELD;
    take->control_generation = r->control.generation;
}

void face_registers_publish(struct face_registers *r, const struct kr_image *image, const struct kr_face_state *state)
{
    memcpy(r->input, image->word, sizeof r->input);
    face_mailbox_set_judging(box_of(r, KR_BLOCK_ORDER), state->request_busy);
    face_mailbox_set_judging(box_of(r, KR_BLOCK_EDIT), state->edit_busy);
    if (state->control_generation != r->control.generation)
        return;
    if (state->drop_control && r->control.state == KR_CONTROL_HELD) {
        face_registers_free_control(r, "the heartbeat is stale");
    } else if (!state->moving && r->control.state == KR_CONTROL_PASSING) {
        face_control_pass(&r->control);
        zero_line(r);
        face_note(r->notes, LOG_NOTICE, "station %s: control has passed on", r->station->name);
        face_audit(r->notes, KR_AUDIT_CONTROL, r->index + 1u, "gateway", 0, "passed on",
                   "control is with who took it over");
    }
}
