#ifndef KR_STATION_LINE_H
#define KR_STATION_LINE_H

#include "alarms.h"
#include "edges.h"
#include "hands.h"
#include "verify.h"

/* To the line, and to whoever reads; no safety function. Each bit is 0 in any doubt. */
struct line {
    bool may_go_on;  /* since the line might be started nothing has happened that could have moved a knife */
    uint16_t status; /* KR_LINE_... */
};

/* What the signals stand on; pointers are read during the call only. */
struct line_view {
    const struct kr_station_config *config;
    const struct rails *rails;
    const struct kr_axis_in *axis; /* of every rail */
    const struct placement *placement;
    const struct permits *permits;
    const struct alarms *alarms;
    const struct hands *hands;
    struct edge_view edges;
    enum kr_unit_state state;
    bool book_failed;
};

/* At the end of a cycle. */
void line_step(struct line *line, const struct line_view *view);

#endif
