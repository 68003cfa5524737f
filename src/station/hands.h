#ifndef KR_STATION_HANDS_H
#define KR_STATION_HANDS_H

#include "permit.h"
#include "rails.h"

/* Whether hands, or a lack of power, may have moved holders: rail by rail. Where that may turn out not to be so, what
 * was proven is only set aside; it counts again once ACCESS_COUNT is what it was and the carriage stands as it stood.
 * Nobody can tell that during a job, or of a carriage that was not at rest and clear when it was seen last. */
struct hands_rail {
    bool aside;      /* what was proven of it is set aside */
    bool clear;      /* at rest and clear, when it was seen last */
    uint16_t inputs; /* then, of pin, brake and clamp */
    bool unheard;    /* since it was set aside the PLC has been silent, or the gateway has restarted */
    bool back;       /* no cause is there any more */
    int64_t back_ms; /* machine time since which that is so */
    uint32_t beats;  /* permits.beats then */
};
struct hands {
    struct hands_rail rail[KR_RAILS_MAX];
    uint16_t count;  /* ACCESS_COUNT as it counts; 0: nobody counts, or nobody is heard */
    uint16_t doubts; /* KR_DOUBT_... */
};

enum hands_verdict {
    HANDS_NO_NEWS,
    HANDS_SET_ASIDE, /* they may have been there */
    HANDS_OVER,      /* nobody was there */
    HANDS_THERE,     /* they were, or nobody will know */
};

/* What is looked at; pointers are read during a call only. */
struct hands_view {
    const struct kr_station_config *config;
    const struct permits *permits;
    const struct rails *rails;
    const struct kr_axis_in *axis; /* of every rail */
    const struct kr_durable *durable;
    uint16_t access_count; /* as the input of the cycle has it */
    int64_t now_ms, gap_us;
    bool may_return; /* the order in force is verified, or was when that was set aside */
    bool in_job;
};

/* One rail, once a cycle. An alarm with code 0: none. */
enum hands_verdict hands_step(struct hands *hands, const struct hands_view *view, uint16_t rail,
                              struct kr_alarm *alarm);

/* After all rails: what is shown of it. */
void hands_sum_up(struct hands *hands, const struct hands_view *view);

bool hands_aside(const struct hands *hands); /* something is set aside */

/* A line that runs need not stop for it: what was set aside was so under the eyes of the PLC. */
bool hands_excuse(const struct hands *hands);

/* The rail is not seen, or not for long enough: it need not prove that it is clear. */
bool hands_unseen(const struct hands *hands, uint16_t rail);

/* At the program's start, of a rail that may turn out to stand as it stood. */
void hands_begin_aside(struct hands *hands, uint16_t rail, uint16_t inputs);

#endif
