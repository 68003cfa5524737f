#ifndef KR_STATION_LINE_H
#define KR_STATION_LINE_H

#include "alarms.h"
#include "edges.h"
#include "hands.h"
#include "verify.h"

/* The signals to the line and to other readers. They are no safety function. Each bit is 0 in any doubt. */
struct line {
    /* Since the line was allowed to start, nothing has happened that could have moved a knife. */
    bool may_go_on;
    uint16_t status; /* KR_LINE_... */
};

/* The inputs of the signals. The pointers are used only during a call. */
struct line_view {
    const struct kr_station_config *config;
    const struct rails *rails;
    const struct kr_axis_in *axis; /* one for each rail */
    const struct placement *placement;
    const struct permits *permits;
    const struct alarms *alarms;
    const struct hands *hands;
    struct edge_view edges;
    enum kr_unit_state state;
    bool book_failed;
};

/* Call it at the end of a cycle. */
void line_step(struct line *line, const struct line_view *view);

#endif
