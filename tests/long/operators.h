/* The people and the PLC around a rig: they start a changeover, mend what broke, look at what stopped it, and go on
 * until it is complete; they know no more than the registers tell. And a watch over what must never happen. */
#ifndef KR_TESTS_OPERATORS_H
#define KR_TESTS_OPERATORS_H

#include "draw.h"
#include "rig.h"

#define SCAN_ERROR_UM 30 /* what a scan may be off by, both ways of it and the play in the rack included */

struct operators {
    struct draw *draw;
    void (*mend)(struct operators *operators, struct rig *rig); /* takes away the causes; NULL: there are none */
    void *of_mend;
    /* A rail was found off: what they do about it; NULL: they confirm the shift that is shown. */
    void (*on_shift)(struct operators *operators, struct rig *rig, uint16_t rail, int32_t shift_um);
    uint16_t find_percent; /* so often they take a lost datum from the references, where that is possible */
    enum kr_job job;       /* of the last Start */
    enum kr_job wanted;    /* that the next Start will ask for */
    bool gives_up;         /* the job can't be resumed: stop it */
    int64_t act_us;        /* when they act next */
    int64_t acted_us;
    uint32_t interruptions; /* states that had to be left by a command */
    uint32_t refusals;      /* of them, those where no plan was possible */
    uint32_t stuck;         /* of the last ones, those by a switch that is stuck */
    bool done;              /* the changeover is Complete and verified */
};

void operators_init(struct operators *operators, struct draw *draw);

/* After every cycle. */
void operators_step(struct operators *operators, struct rig *rig);

/* Maintenance has looked, and says that the holders, or the references, are where they belong. */
void operators_confirm_shift(struct rig *rig, uint16_t rail, int32_t shift_um);

/* What must never happen: collision, a holder dragged by a pin that isn't seated, a false 'measured', motion in a state
 * of rest, 'line may be started', 'line may run' or Complete and verified with a knife, a pair or a slit truly out of
 * its tolerance. */
struct watch {
    char what[160];   /* the first thing that happened; "": nothing */
    bool crept_apart; /* a holder that had crept, or beside which the pin was off, was in the way before anything could
                        find it: no more can be asked */
    int64_t rest_since_us;
    enum kr_unit_state state;
};
void watch_step(struct watch *watch, struct rig *rig);

/* Every knife, pair and slit truly stands within its tolerance: so much a line signal claims. */
void watch_knives(struct watch *watch, const struct rig *rig);

/* What happened, with a value and its limit. The first is kept. */
void watch_say(struct watch *watch, const struct rig *rig, const char *what, int32_t value, int32_t limit);

#endif
