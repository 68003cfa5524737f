/* A digest of all that stations say in a run of stories: every field of every output image, and every register of
 * every register image, of every cycle. A change that claims to change no behaviour leaves the digest of a long run
 * as it was; that is faster than to compare results, and far stronger.
 *
 * Registers are taken by their names, in the order of a layout file, and not by their addresses. A register that only
 * gets another address leaves the digest as it was; one that gets another name says so in the layout file. Rows of
 * the file: "NAME", or "NAME = PRESENT_NAME"; '#' begins a comment. A register that the file does not name is left out:
 * MAP_VERSION, and those that are newer than the layout. */
#ifndef KR_TESTS_DIGEST_H
#define KR_TESTS_DIGEST_H

#include "rig.h"

struct digest {
    uint16_t n_spans;
    struct digest_span {
        uint16_t first, words; /* address and length in the present map; per rail: of rail 1 */
        bool per_rail;
    } span[KR_REG_COUNT];
    uint16_t before[KR_MAP_INPUT_WORDS]; /* the registers of the cycle before */
    uint64_t story;                      /* of the present story: its output images and registers so far */
    /* Of the finished stories; the order does not matter, so that a run can be split and added up. */
    uint64_t sum;
};

/* Reads the layout. Returns false, after a line on standard error that names file and row, if it cannot be used. */
bool digest_open(struct digest *digest, const char *layout_path);

/* Between the two: digest_cycle() after each cycle of the rig. */
void digest_story_begin(struct digest *digest, uint64_t number);
void digest_cycle(struct digest *digest, const struct rig *rig);
void digest_story_end(struct digest *digest);

/* Writes a layout file of the present map to standard output. */
void digest_print_layout(void);

#endif
