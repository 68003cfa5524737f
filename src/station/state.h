/* Private to src/station: the whole state of a station. Each group belongs to the file of its header, which alone
 * changes it, except where a comment there says otherwise. A cycle runs through the files in the order of
 * kr_station_step() (station.c); outputs are built from the state at its end, nowhere else. */
#ifndef KR_STATION_STATE_H
#define KR_STATION_STATE_H

#include "alarm_times.h"
#include "clock.h"
#include "command.h"
#include "durable.h"
#include "edges.h"
#include "edit.h"
#include "hands.h"
#include "intake.h"
#include "job.h"
#include "jog.h"
#include "line.h"
#include "metres.h"
#include "permit.h"
#include "planning.h"
#include "queue.h"
#include "rails.h"
#include "state_times.h"
#include "test_cuts.h"
#include "unit_state.h"
#include "verify.h"
#include "wear.h"

/* A Start that put an order in force, until the book has that. */
struct starting {
    uint32_t serial; /* of kr_durable: contains what Start put in force */
    bool storing;
    struct orders_shown before; /* what is shown until then */
};

struct kr_station {
    struct kr_station_config config;
    uint16_t session;
    struct clock clock;
    struct kr_station_in in; /* this cycle's */
    struct permits permits;
    struct hands hands;
    struct line line;
    struct alarms alarms;
    struct alarm_times alarm_times;

    struct unit unit;
    struct state_times state_times;
    struct starting starting;
    struct job job;
    struct jog jog;
    struct kr_record record; /* being made */
    struct rails rails;

    struct commanded command;
    struct intake intake;
    struct editing editing;
    struct planning planning;
    struct placement placement;
    struct test_cuts test_cuts;
    struct edges edges;
    struct metres metres;
    struct wear wear;

    struct kr_durable durable;
    struct storing storing;
};

/* All that says what the edges allow. A macro: it serves a station that is const, and one that is not. */
#define view_of_edges(s) \
    ((struct edge_view){&(s)->edges, &(s)->durable, &(s)->planning, &(s)->config.geometry})

#endif
