/* Stories of the frame: stations with references on the frame, with one, or without; drives and switches that begin to
 * count otherwise, and blades that sit otherwise than somebody has written down. They are judged by where all truly
 * stands in the machine's frame. What config/pages/maintenance.md lists as not found is excused, so far and no further:
 *
 * - references at both ends: nothing but an error of pitch, dirt that is too little to be seen, and half of what comes
 *   in the middle of a scan;
 * - one, or several at one end: a scale and a warmer rail too, by so much of the way from the reference;
 * - seen by a switch of their own: a bracket of either switch that the holders that nobody moved could not tell, as
 *   exactly as it is;
 * - none: what the holders that nobody moved could not tell, in rig.excuse as exactly as it is;
 * - an edge offset that is wrong and that a person has confirmed, and what a test cut within tolerance leaves.
 *
 * All draws come from a stream of the stories' own: station and order are those of the same story without. */
#ifndef KR_TESTS_FRAMES_H
#define KR_TESTS_FRAMES_H

#include "operators.h"
#include "stations.h"

#define FRAME_FAULTS(X) \
    X(SHIFT, "a datum shifted by less than a step") \
    X(FAR_SHIFT, "a datum shifted by more") \
    X(BUMP, "a switch's bracket was bumped") \
    X(SCALE, "a drive's scale changed") \
    X(WARMER, "a rail got warmer or colder than the frame") \
    X(PITCH, "a drive's pitch has an error") \
    X(DIRTY, "a reference got dirty") \
    X(MISSING, "a reference is missing") \
    X(EXCHANGED, "the drives of two rails were exchanged") \
    X(MENDED, "what was wrong with a rail was mended") \
    X(BLADE, "a wrong edge offset was written down")
enum frame_fault {
#define X(NAME, what) FRAME_##NAME,
    FRAME_FAULTS(X)
#undef X
        N_FRAME_FAULTS
};
const char *frame_fault_meaning(enum frame_fault fault);

struct frames {
    struct draw draw;
    struct draw second; /* of references with a switch of their own, and of drives that limit their jerk */
    struct frames_rail {
        int32_t shift_um, bump_um, scale_ppm, warmer_ppm, pitch_um; /* as it stands */
        int32_t bump_2_um;                                          /* of the references' own switch */
        uint32_t homings;            /* of the drive when the datum shifted last: a homing takes the shift in */
        int32_t taken_in_um;         /* of the shift, by the homing before that */
        uint8_t missing, dirty;      /* references, one bit each */
        int32_t least_ppm, most_ppm; /* that it ever counted more, or less, of each way */
        int32_t worst_pitch_um, worst_dirt_um;
        bool loses_an_end;    /* of what it could see at some time, nothing gives a slope */
        bool confirmed;       /* a person has confirmed a shift since the last scan */
        uint32_t scans;       /* that the machine had seen begin when one counted last */
        int32_t half_seen_um; /* what that one could not see, since it came in the middle of it; until the next one */
        uint32_t half_passes; /* that had begun then */
        int32_t off_um[2];    /* at the rail's ends, when a scan counted last */
        int32_t scale_ppb;    /* what the references had found of the scale then */
        bool scanned;         /* one has counted */
        struct kr_holder_data before[KR_HOLDERS_MAX]; /* of the cycle before */
    } rail[KR_RAILS_MAX];
    bool exchanged;
    bool by_test_cut; /* how this station's edges are proven */
    enum kr_unit_state state;
    int64_t next_us;
    uint32_t n, counts[N_FRAME_FAULTS];
    uint32_t test_cuts, may_run, confirmed; /* so often; shifts by a person */
    uint32_t stated, falsely;     /* test cuts with a statement about the pairs; edges that a false one proved */
    uint32_t own_switches, jerks; /* stations with them */
    uint32_t by_references[3];    /* rails without, with one end, with both */
    char what[160];               /* the first thing that must not happen; "": nothing */
};

/* Before rig_begin(). */
void frames_draw(struct frames *frames, uint64_t number, struct rig *rig);
/* After it: what was wrong before anybody looked. */
void frames_begin(struct frames *frames, struct rig *rig);
/* After every cycle: what strikes. Permissives are those that the PLC gives. */
void frames_step(struct frames *frames, struct rig *rig, uint16_t *permissives);

/* People have come. */
void frames_visit(struct frames *frames, struct rig *rig);
void frames_look_at_shift(struct frames *frames, struct rig *rig, uint16_t rail, int32_t shift_um);

/* Complete and verified: edges that nobody has proven are proven. */
void frames_prove_edges(struct frames *frames, struct rig *rig);

/* Between two changeovers, Idle: a person may write down an offset, and something may strike. */
void frames_between(struct frames *frames, struct rig *rig, uint16_t *permissives);

/* ---- for a test that makes its own station and chooses what strikes -------------------------------------------- */

/* Before rig_begin(): claims are judged, and excused, as in a story. number: of what is drawn for people. */
void frames_watch(struct frames *frames, uint64_t number, struct rig *rig);
/* The machine gets what frames->rail[rail] says. */
void frames_lay(struct frames *frames, struct rig *rig, uint16_t rail);
/* What has just been laid came in the middle of a scan, which sees half of it: excused until the next one. */
void frames_half_seen(struct frames *frames, struct rig *rig, uint16_t rail, int32_t by_um);
/* All of a rail but its warmth is as it should be. */
void frames_mend_rail(struct frames *frames, struct rig *rig, uint16_t rail);
/* A reference looks so much wider, or is missing (0); and all of a rail are there and clean. */
void frames_spoil(struct frames *frames, struct rig *rig, uint16_t rail, uint16_t reference, int32_t dirt_um);
void frames_clean(struct frames *frames, struct rig *rig, uint16_t rail);
/* On: false, if fewer than two references of a rail could tell. */
bool frames_exchange(struct frames *frames, struct rig *rig, bool on);
/* An offset is written down that the blade does not have. False: the station refuses it. */
bool frames_mistype_offset(struct frames *frames, struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);
void frames_guards(struct rig *rig, uint16_t *permissives, bool closed);
void frames_restart(struct rig *rig, uint16_t *permissives);

#endif
