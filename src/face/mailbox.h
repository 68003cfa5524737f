/* mailbox: copies of a block that wait for the station. Pure. */
#ifndef KR_FACE_MAILBOX_H
#define KR_FACE_MAILBOX_H

#include "kniferail/face.h"

#define FACE_DEPTH_MAX 4

struct face_mailbox {
    enum kr_block_id block;
    uint16_t words;    /* of the block */
    uint16_t depth;    /* 1: one at a time, and no other until it was judged */
    uint16_t n, first; /* waiting, and the oldest of them */
    bool judging;      /* depth 1: taken, and the station hasn't said yet that it is done */
    struct kr_snapshot waiting[FACE_DEPTH_MAX];
    char waiting_origin[FACE_DEPTH_MAX][KR_FACE_ADDRESS_MAX]; /* the addresses that wrote them */
    struct kr_snapshot last;                                  /* the newest that was handed over */
    char origin[KR_FACE_ADDRESS_MAX];                         /* the address that wrote it */
};

enum face_post { FACE_POST_OK, FACE_POST_AGAIN, FACE_POST_FULL };

void face_mailbox_init(struct face_mailbox *box, enum kr_block_id block);

/* What posting these words would do; changes nothing. AGAIN: they are the newest that waits or is being judged:
 * nothing to do. */
enum face_post face_mailbox_judge(const struct face_mailbox *box, const uint16_t *word);

/* Whether these words, from that address, are what was handed over last: a master may write the same block in every
 * one of its scans. */
bool face_mailbox_repeats(const struct face_mailbox *box, const uint16_t *word, const char *origin);

/* Only after judge said OK. */
void face_mailbox_post(struct face_mailbox *box, const uint16_t *word, const char *origin);

/* Takes the oldest, and who wrote it, unless origin is NULL; snapshot->present is false, and origin empty, if there
 * is none. */
void face_mailbox_take(struct face_mailbox *box, struct kr_snapshot *snapshot,
                       char origin[KR_FACE_ADDRESS_MAX]);

/* The station's word on whether it still judges what it took. */
void face_mailbox_set_judging(struct face_mailbox *box, bool judging);

/* Marks what waits: a HALT came before its turn. */
void face_mailbox_overtake(struct face_mailbox *box);

/* Drops what waits; says how many. */
uint16_t face_mailbox_drop(struct face_mailbox *box);

#endif
