/* Disturbances that come from outside the machine: a PLC that falls silent, others who write, answers that are late
 * one by one, positions that can't be, holders that creep. In a story with storms the PLC's writes go through the
 * face's own rules (src/face/line.c), and the truth of the simulated machine is what it is judged by. */
#ifndef KR_TESTS_STORMS_H
#define KR_TESTS_STORMS_H

#include <string.h>

#include "draw.h"
#include "line.h"
#include "rig.h"

#define STORMS(X) \
    X(SILENT, "the PLC writes nothing, for less or more than its limits") \
    X(SECOND_WRITER, "the PLC is silent, and another client of its address writes the heartbeat alone") \
    X(STRAY_COMMANDS, "somebody gives the command that would lead on, with another session") \
    X(LATE_ANSWER, "one answer of a drive is late, by less or more than each limit") \
    X(SWAPPED_WORDS, "a drive is restarted with the other word order: positions in and out") \
    X(REVERSED, "a drive is restarted and counts the other way") \
    X(FAR_JUMP, "a drive claims a datum at a place beyond its travel") \
    X(CREEP, "a holder creeps while the unit rests, and no guard was open")
enum storm {
#define X(NAME, what) STORM_##NAME,
    STORMS(X)
#undef X
        N_STORMS
};

struct storms {
    struct draw *draw;
    /* the PLC */
    uint16_t wanted;  /* permissives that it writes */
    uint16_t count;   /* of accesses, in the same write; 0: it is left out of it */
    bool silent;      /* it writes nothing */
    bool second;      /* the second writer writes */
    int64_t beat_us;  /* how often it writes */
    int64_t wrote_us; /* when it wrote last */
    int64_t second_us;
    uint16_t holding[8]; /* block LINE, as a client sees it */
    struct face_line line;
    /* the wire of each rail */
    struct storm_wire {
        bool refused;           /* another gateway works the drive */
        bool swapped, reversed; /* what the drive says and takes */
        bool late;              /* one answer is awaited */
        int64_t before_us;      /* of the answer before it, by the machine's wire */
        bool was_late;          /* the image says so */
        int32_t lost_ms;        /* without an answer for so long the link is lost */
        int64_t late_us;        /* since when motion should have ended, by its answers; 0: it need not */
        int64_t impossible_us;  /* since when the position shown can't be; 0: it can */
    } wire[KR_RAILS_MAX];
    char what[160]; /* the first thing that must not happen; "": nothing */
};

/* Goes between machine and station. The PLC writes every so many milliseconds, and a link is lost after lost_ms
 * without an answer. Before rig_begin(). */
void storms_init(struct storms *storms, struct draw *draw, struct rig *rig, int32_t beat_ms, int32_t lost_ms);
/* The same with limits, watchdogs and the PLC's pace drawn. */
void storms_draw(struct storms *storms, struct draw *draw, struct rig *rig);
/* After every cycle: what the drives will be told, and what must never happen. */
void storms_step(struct storms *storms, struct rig *rig);

/* The PLC's connection is gone, and its control with it. */
void storms_let_go(struct storms *storms, struct rig *rig);
/* The gateway has started: nothing is given, and nobody has control. */
void storms_gateway_began(struct storms *storms);

/* The drive claims a datum, and the position that it shows is beyond the travel. */
bool storms_shows_impossible(const struct rig *rig, uint16_t rail);

/* One storm with its figure. False: not possible now. */
bool storms_answer_late(struct storms *storms, struct rig *rig, uint16_t rail, int32_t late_ms);
bool storms_restart(struct storms *storms, struct rig *rig, uint16_t rail, bool swapped); /* else it is reversed */
bool storms_jump_far(struct rig *rig, uint16_t rail, int32_t beyond_um);                  /* below 0: the other way */
bool storms_creep(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);
bool storms_stray(struct storms *storms, struct rig *rig);

/* A storm whose figure is drawn. False: not possible now. *for_ms: how long it stands; 0: it happens once. */
bool storms_strike(struct storms *storms, struct rig *rig, enum storm storm, uint16_t rail, uint16_t holder,
                   int32_t *for_ms);
void storms_mend(struct storms *storms, struct rig *rig, uint16_t rail);

const char *storm_meaning(enum storm storm);

#endif
