/* line: what of the block LINE counts. Permissives are given, and stay fresh, by a write that carries them together
 * with a heartbeat that has changed. Any other write can only take them away: a heartbeat alone (a second client of
 * the same address), permissives alone, coils, function 22. A count of accesses counts in such a write alone: what a
 * PLC wrote once, and does not write any more, says nothing of today. */
#ifndef KR_FACE_LINE_H
#define KR_FACE_LINE_H

#include "kniferail/face.h"

struct face_line {
    uint16_t heartbeat;    /* of the last write that gave permissives */
    uint16_t given;        /* permissives that count */
    uint16_t access_count; /* that came in the same write; 0: it did not carry the count */
    uint16_t taken; /* those that a write took away since the station looked last: it must not miss that */
};

/* After n registers from `first` on were written; holding: all of them, as they stand now. */
void face_line_written(struct face_line *line, const uint16_t holding[], uint16_t first, uint16_t n);

/* The block as it counts, for the station's cycle. */
void face_line_take(struct face_line *line, const uint16_t holding[], uint16_t word[KR_FACE_LINE_WORDS]);

#endif
