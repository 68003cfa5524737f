/* mailbox: copies of a block that wait for the station. Pure. */
#ifndef KR_FACE_MAILBOX_H
#define KR_FACE_MAILBOX_H

#include "kniferail/face.h"

#define FACE_DEPTH_MAX   4
#define FACE_WRITERS_MAX 8

/* What an address handed over last. */
struct face_writer {
    char origin[KR_FACE_ADDRESS_MAX];
    uint16_t word[KR_MAP_BLOCK_WORDS_MAX];
};

struct face_mailbox {
    enum kr_block_id block;
    uint16_t words;    /* of the block */
    uint16_t depth;    /* 1: one copy at a time, and no other until that one was judged */
    uint16_t n, first; /* how many copies wait, and which is the oldest */
    bool judging;      /* depth 1: the copy was taken, and the station has not said yet that it is done */
    struct kr_snapshot waiting[FACE_DEPTH_MAX];
    char waiting_origin[FACE_DEPTH_MAX][KR_FACE_ADDRESS_MAX]; /* the addresses that wrote them */
    struct kr_snapshot last;                                  /* the newest that was handed over */
    char origin[KR_FACE_ADDRESS_MAX];                         /* the address that wrote it */
    struct face_writer writer[FACE_WRITERS_MAX];              /* of the addresses that handed over lately */
    uint16_t n_writers, next_writer; /* next_writer: the one that the next new address replaces */
};

enum face_post { FACE_POST_OK, FACE_POST_AGAIN, FACE_POST_FULL };

void face_mailbox_init(struct face_mailbox *box, enum kr_block_id block);

/* Says what posting these words would do, and changes nothing. AGAIN: these words are the newest copy that waits or is
 * being judged, so there is nothing to do. */
enum face_post face_mailbox_judge(const struct face_mailbox *box, const uint16_t *word);

/* Are these words, from that address, what was handed over last? A master may write the same block in every one of its
 * scans. */
bool face_mailbox_repeats(const struct face_mailbox *box, const uint16_t *word, const char *origin);

/* Two masters that share control may each write their block in every scan. True if these words are what that address
 * handed over last, and another address has handed over since: so they are old, and no new request or command. */
bool face_mailbox_is_old(const struct face_mailbox *box, const uint16_t *word, const char *origin);

/* Posts the words. Call it only after face_mailbox_judge() said OK. */
void face_mailbox_post(struct face_mailbox *box, const uint16_t *word, const char *origin);

/* Takes the oldest copy, and the address that wrote it unless origin is NULL. If there is none, snapshot->present is
 * false, and origin is empty. */
void face_mailbox_take(struct face_mailbox *box, struct kr_snapshot *snapshot, char origin[KR_FACE_ADDRESS_MAX]);

/* The station says whether it still judges what it took. */
void face_mailbox_set_judging(struct face_mailbox *box, bool judging);

/* Marks the copies that wait: a HALT came before their turn. */
void face_mailbox_overtake(struct face_mailbox *box);

/* Drops the copies that wait, and returns how many there were. */
uint16_t face_mailbox_drop(struct face_mailbox *box);

#endif
