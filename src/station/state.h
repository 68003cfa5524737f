/* Private to src/station: the whole state of a station. Each group belongs to the file of its header, and only that
 * file changes it, except where a comment there says otherwise. A cycle runs through the files in the sequence of
 * kr_station_step() (station.c). Outputs are made from the state at its end, and nowhere else. */
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

/* A Start that has put an order in force, until the book has stored that. */
struct starting {
    uint32_t serial; /* serial of the kr_durable with the order that Start has put in force */
    bool storing;
    struct orders_shown before; /* what clients see until then */
};

struct kr_station {
    struct kr_station_config config;
    uint16_t session;
    struct clock clock;
    struct kr_station_in in; /* input of this cycle */
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
    struct kr_record record; /* record of the present job */
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

/* The inputs for deciding what the edges allow. It is a macro so that it serves a const station, too. */
#define view_of_edges(s) ((struct edge_view){&(s)->edges, &(s)->durable, &(s)->planning, &(s)->config.geometry})

#endif
