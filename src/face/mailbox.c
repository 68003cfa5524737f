#include "mailbox.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

void face_mailbox_init(struct face_mailbox *box, enum kr_block_id block)
{
    const struct kr_block_info *info = kr_block_info(block);
    assert(info->depth >= 1 && info->depth <= FACE_DEPTH_MAX && info->words <= KR_MAP_BLOCK_WORDS_MAX);
    memset(box, 0, sizeof *box);
    box->block = block;
    box->words = info->words;
    box->depth = info->depth;
}

static bool occupied(const struct face_mailbox *box)
{
    return box->n > 0 || box->judging;
}

static bool same_words(const struct face_mailbox *box, const uint16_t *word)
{
    return box->last.present && memcmp(box->last.word, word, box->words * sizeof *word) == 0;
}

bool face_mailbox_repeats(const struct face_mailbox *box, const uint16_t *word, const char *origin)
{
    return same_words(box, word) && strcmp(box->origin, origin) == 0;
}

static int writer_of(const struct face_mailbox *box, const char *origin)
{
    for (int i = 0; i < box->n_writers; i++)
        if (strcmp(box->writer[i].origin, origin) == 0)
            return i;
    return -1;
}

bool face_mailbox_is_old(const struct face_mailbox *box, const uint16_t *word, const char *origin)
{
    int i = writer_of(box, origin);
    return i >= 0 && strcmp(box->origin, origin) != 0 &&
           memcmp(box->writer[i].word, word, box->words * sizeof *word) == 0;
}

static void remember(struct face_mailbox *box, const uint16_t *word, const char *origin)
{
    int i = writer_of(box, origin);
    if (i < 0) {
        i = box->next_writer;
        box->next_writer = (uint16_t)((i + 1) % FACE_WRITERS_MAX);
        box->n_writers = (uint16_t)(box->n_writers + (box->n_writers < FACE_WRITERS_MAX));
        snprintf(box->writer[i].origin, sizeof box->writer[i].origin, "%s", origin);
    }
    memcpy(box->writer[i].word, word, box->words * sizeof *word);
}

enum face_post face_mailbox_judge(const struct face_mailbox *box, const uint16_t *word)
{
    if (occupied(box) && same_words(box, word))
        return FACE_POST_AGAIN;
    bool room = box->depth > 1 ? box->n < box->depth : !occupied(box);
    return room ? FACE_POST_OK : FACE_POST_FULL;
}

void face_mailbox_post(struct face_mailbox *box, const uint16_t *word, const char *origin)
{
    assert(box->n < box->depth);
    uint16_t at = (uint16_t)((box->first + box->n) % box->depth);
    struct kr_snapshot *slot = &box->waiting[at];
    slot->present = true;
    slot->overtaken = false;
    memcpy(slot->word, word, box->words * sizeof *word);
    box->last = *slot;
    snprintf(box->origin, sizeof box->origin, "%s", origin);
    snprintf(box->waiting_origin[at], sizeof box->waiting_origin[at], "%s", origin);
    remember(box, word, origin);
    box->n++;
}

void face_mailbox_take(struct face_mailbox *box, struct kr_snapshot *snapshot, char origin[KR_FACE_ADDRESS_MAX])
{
    if (origin != NULL)
        snprintf(origin, KR_FACE_ADDRESS_MAX, "%s", box->n > 0 ? box->waiting_origin[box->first] : "");
    if (box->n == 0) {
        snapshot->present = false;
        return;
    }
    *snapshot = box->waiting[box->first];
    box->first = (uint16_t)((box->first + 1) % box->depth);
    box->n--;
    box->judging = box->depth == 1;
}

void face_mailbox_set_judging(struct face_mailbox *box, bool judging)
{
    box->judging = judging && box->depth == 1;
}

void face_mailbox_overtake(struct face_mailbox *box)
{
    for (uint16_t i = 0; i < box->n; i++)
        box->waiting[(box->first + i) % box->depth].overtaken = true;
}

uint16_t face_mailbox_drop(struct face_mailbox *box)
{
    uint16_t n = box->n;
    box->n = 0;
    return n;
}
