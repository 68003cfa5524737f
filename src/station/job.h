#ifndef KR_STATION_JOB_H
#define KR_STATION_JOB_H

#include "kniferail/station.h"

/* The fields of a Start command. */
struct start {
    uint16_t job, rail, holder, speed, output;
    int32_t position_um;
    uint32_t order_number; /* number of the order that is meant; 0: any order that is staged or in force */
};

struct job {
    uint16_t kind;      /* enum kr_job of the present or last Start */
    uint16_t rail;      /* from COMMAND_RAIL; 0: all rails */
    uint16_t holder;    /* for a single move */
    int32_t to_um;      /* for a single move or a drag */
    int32_t from_um;    /* for a drag: the place where it begins and ends */
    int32_t far_um;     /* for a drag: the place to which the holder is dragged */
    int8_t way;         /* for a drag: direction of the present drag, -1 or 1; 0: no drag was planned yet */
    uint8_t drags;      /* for a drag: number of drags that were scanned */
    bool reduced;       /* at reduced speed */
    uint16_t output;    /* for a try of an output: KR_DO_... */
    uint16_t rail_mask; /* rails that take part in the present phase */
    enum kr_phase phase;
    bool phase_begun;
    uint32_t stored_serial;   /* serial of the kr_durable that the present phase waits for */
    uint16_t known;           /* kr_motion_flags_known() as the job began: bit r is rail r */
    bool scanned;             /* everything was measured in this job, and nothing has moved since */
    bool correcting;          /* the plan in force is a correction */
    bool replanned;           /* after an interruption */
    bool in_tolerance;        /* holders in tolerance stay, because no plan is possible otherwise: see stay_um() */
    struct kr_result refusal; /* of the plan in which they do not */
    bool again;               /* the order in force is set up again: nothing moves for the next order */
    uint8_t corrections;
    int64_t began_ms, phase_ms;
    int64_t planned_us, moving_us; /* moving_us: time of the moves that are no corrections */
    uint16_t percent;
    bool late;
};

/* Returns the rails that the job needs in order and may move, as a mask. */
uint16_t job_rails(const struct job *job, const struct kr_station_config *config);

struct job job_asked(const struct start *asked);
void job_begin(struct kr_station *s, const struct start *asked);
void job_resume(struct kr_station *s);
bool job_step(struct kr_station *s); /* true when it is done */

#endif
