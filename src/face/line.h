/* line: what of the block LINE counts. Only a write that carries the permissives together with a heartbeat that has
 * changed gives permissives and keeps them fresh. Any other write can only take permissives away: a heartbeat alone
 * (from a second client of the same address), permissives alone, coils, function 22. A count of accesses counts only in
 * such a write, too: a count that a PLC wrote once, and does not write any more, says nothing about now. */
#ifndef KR_FACE_LINE_H
#define KR_FACE_LINE_H

#include "kniferail/face.h"

struct face_line {
    uint16_t heartbeat;    /* of the last write that gave permissives */
    uint16_t given;        /* permissives that count */
    uint16_t access_count; /* that came in the same write; 0: it did not carry the count */
    /* Permissives that a write took away since the station looked last, because it must not miss that. */
    uint16_t taken;
};

/* Call it after n registers from `first` on were written. holding: all registers as they stand now. */
void face_line_written(struct face_line *line, const uint16_t holding[], uint16_t first, uint16_t n);

/* Gives the block as it counts, for the station's cycle. */
void face_line_take(struct face_line *line, const uint16_t holding[], uint16_t word[KR_FACE_LINE_WORDS]);

#endif
