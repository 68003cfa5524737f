#ifndef KR_STATION_JOB_H
#define KR_STATION_JOB_H

#include "kniferail/station.h"

/* What a Start asks for, as it was written. */
struct start {
    uint16_t job, rail, holder, speed, output;
    int32_t position_um;
    uint32_t order_number; /* that is meant; 0: whichever is staged, or in force */
};

struct job {
    uint16_t kind;      /* enum kr_job; of the present or last Start */
    uint16_t rail;      /* from COMMAND_RAIL: 0 all */
    uint16_t holder;    /* with a single move */
    int32_t to_um;      /* with a single move, or drag */
    int32_t from_um;    /* with a drag: where the holder is dragged from, and back to */
    int32_t far_um;     /* the same: where it is dragged to */
    int8_t way;         /* the same: of the present drag, -1 or 1; 0: none was planned yet */
    uint8_t drags;      /* the same: that were scanned */
    bool reduced;       /* at reduced speed */
    uint16_t output;    /* with a try: KR_DO_... */
    uint16_t rail_mask; /* rails that take part in the present phase */
    enum kr_phase phase;
    bool phase_begun;
    uint32_t stored_serial; /* of kr_durable: contains what the present phase waits for */
    bool scanned;           /* everything was measured in this job and nothing moved since */
    bool correcting;        /* the plan in force is a correction */
    bool replanned;         /* after an interruption */
    bool again; /* the order in force is set up once more: nothing moves for the next one's sake */
    uint8_t corrections;
    int64_t began_ms, phase_ms;
    int64_t planned_us, moving_us; /* moving_us: of the moves that are no corrections */
    uint16_t percent;
    bool late;
};

/* Rails whose state it needs in order, and which alone it moves: a mask. */
uint16_t job_rails(const struct job *job, const struct kr_station_config *config);

struct job job_asked(const struct start *asked);
void job_begin(struct kr_station *s, const struct start *asked);
void job_resume(struct kr_station *s);
bool job_step(struct kr_station *s); /* true when it is done */

#endif
