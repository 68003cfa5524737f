#ifndef KR_STATION_HANDS_H
#define KR_STATION_HANDS_H

#include "permit.h"
#include "rails.h"

/* Decides for each rail whether hands, or a lack of power, may have moved holders. Where it may turn out later that
 * they have not, the proof is only set aside. It counts again once ACCESS_COUNT is as before and the carriage stands as
 * before. This can't be decided during a job, or for a carriage that was not at rest and clear when it was last
 * seen. */
struct hands_rail {
    bool aside;      /* the proof about this rail is set aside */
    bool clear;      /* the carriage was at rest and clear when it was last seen */
    uint16_t inputs; /* inputs of pin, brake and clamp at that time */
    bool unheard;    /* the PLC has been silent, or the gateway has restarted, since the proof was set aside */
    bool back;       /* there is no reason for a doubt any more */
    int64_t back_ms; /* machine time since which there is none */
    uint32_t beats;  /* permits.beats at that time */
};
struct hands {
    struct hands_rail rail[KR_RAILS_MAX];
    uint16_t count;  /* ACCESS_COUNT in force; 0: nobody counts, or the PLC is silent */
    uint16_t doubts; /* KR_DOUBT_... */
};

enum hands_verdict {
    HANDS_NO_NEWS,
    HANDS_SET_ASIDE, /* hands may have been there */
    HANDS_OVER,      /* hands were not there */
    HANDS_THERE,     /* hands were there, or it can never be known */
};

/* The inputs of the decision. The pointers are used only during a call. */
struct hands_view {
    const struct kr_station_config *config;
    const struct permits *permits;
    const struct rails *rails;
    const struct kr_axis_in *axis; /* one for each rail */
    const struct kr_durable *durable;
    uint16_t access_count; /* from the input of the cycle */
    int64_t now_ms, gap_us;
    bool may_return; /* the order in force is verified, or was when it was set aside */
    bool in_job;
};

/* Decides about one rail. Call it once in each cycle. *alarm has code 0 if there is none. */
enum hands_verdict hands_step(struct hands *hands, const struct hands_view *view, uint16_t rail,
                              struct kr_alarm *alarm);

/* Computes what clients see. Call it after all rails. */
void hands_sum_up(struct hands *hands, const struct hands_view *view);

bool hands_aside(const struct hands *hands); /* the proof about some rail is set aside */

/* Tells whether a running line may go on, because the proof was set aside while the PLC watched. */
bool hands_excuse(const struct hands *hands);

/* The rail is not seen, or not for long enough, so that it need not prove that it is clear. */
bool hands_unseen(const struct hands *hands, uint16_t rail);

/* Call it at the program's start for a rail that may turn out to stand as before. */
void hands_begin_aside(struct hands *hands, uint16_t rail, uint16_t inputs);

#endif
