/* machine: the simulated slitter rails, from the drives' words to where each holder truly stands. It takes the
 * place of real drives behind the positioner's interface, in process or served over a wire.
 *
 * Memory is the caller's; nothing is allocated; the state is flat and without pointers, so that a copy of it is a
 * checkpoint. Time comes in as an argument. Physics runs in sub-steps of one millisecond, so that the same
 * outputs give the same machine, bit for bit, however the time is sliced. Not thread-safe: one caller at a time. */
#ifndef KNIFERAIL_SIM_MACHINE_H
#define KNIFERAIL_SIM_MACHINE_H

#include "sim/config.h"
#include "sim/drive.h"
#include "sim/flagswitch.h"
#include "sim/rail.h"

/* ---- faults -------------------------------------------------------------------------------------------- */

enum sim_fault {
#define F(NAME, name, item, value, least, most, what) SIM_##NAME,
#include "sim/faults.def"
    SIM_N_FAULTS
};
enum sim_item { SIM_ITEM_RAIL, SIM_ITEM_HOLDER, SIM_ITEM_REFERENCE, SIM_ITEM_MACHINE };
const char *
sim_item_word(enum sim_item item); /* what has to be named besides a rail: "HOLDER", "REFERENCE", "" */
#define SIM_VALUES(X)              /* name, word in lists */ \
    X(NONE, "") \
    X(CODE, "CODE") \
    X(UM, "UM") \
    X(MS, "MS") \
    X(COUNT, "COUNT") \
    X(PPM, "PPM")
enum sim_value {
#define X(NAME, word) SIM_VALUE_##NAME,
    SIM_VALUES(X)
#undef X
};
const char *sim_value_word(enum sim_value value);

struct sim_fault_info {
    const char *name; /* in scripts and commands */
    enum sim_item item;
    enum sim_value value;
    int32_t least, most;
    const char *what;
};
const struct sim_fault_info *
sim_fault_info(enum sim_fault fault); /* NULL: no such fault; rows live for ever */

/* ---- phases -------------------------------------------------------------------------------------------- */

/* What a carriage is doing, as an onlooker would name it. From docking on, the pin is on its way in or in; it ends
 * when the pin is out again. */
#define SIM_PHASES(X) \
    X(OFF, "off", "no power") \
    X(STANDING, "standing", "at rest, pin out") \
    X(HOMING, "homing", "looking for the home mark") \
    X(SCANNING, "scanning", "moving with the touch probe armed") \
    X(TRAVELLING, "travelling", "moving with the pin out") \
    X(DOCKING, "docking", "the pin goes in, the brake isn't open yet") \
    X(DOCKED, "docked", "pin in, brake open, at rest") \
    X(DRAGGING, "dragging", "moving a holder") \
    X(RELEASING, "releasing", "the brake closes or the pin goes out")

enum sim_phase {
#define X(NAME, name, what) SIM_PHASE_##NAME,
    SIM_PHASES(X)
#undef X
        SIM_N_PHASES
};
const char *sim_phase_name(enum sim_phase phase); /* NULL: no such phase */

/* ---- state --------------------------------------------------------------------------------------------- */

/* The wire between the master and one drive. */
struct sim_wire {
    bool waiting, sampled, delivered; /* slow answers: one exchange under way; its image; the last image */
    int64_t due_us, sampled_us, delivered_us, last_good_us;
    struct kr_axis_in sample, image;
};

struct sim_axis {
    struct sim_drive drive;
    struct sim_rail rail;
    struct sim_switch sw, reference_sw; /* the second one only where references have a switch of their own */
    struct sim_probe probe, probe_2;
    struct sim_wire wire;
    enum sim_phase phase;
    uint32_t entered[SIM_N_PHASES]; /* how often */
    uint64_t broken;                /* bit 1 << enum sim_fault; what stands now */
    int32_t value[SIM_N_FAULTS];    /* of each that stands */
};

struct sim_machine {
    struct sim_config config;
    int64_t now_us, left_us; /* left_us: time given that doesn't make a whole sub-step yet */
    uint16_t inputs;
    struct sim_incidents incidents;
    struct sim_axis axis[KR_RAILS_MAX];
};

/* ---- running it ---------------------------------------------------------------------------------------- */

/* Copies the config. If the result's what isn't NULL the config was refused and the machine is untouched. */
struct sim_mistake sim_machine_init(struct sim_machine *m, const struct sim_config *config);

/* One exchange with every drive: out[] is held during dt_us >= 0, in[] is what the drives answer after it. Both
 * have n_rails entries. */
void sim_machine_step(struct sim_machine *m, const struct kr_axis_out out[], int64_t dt_us,
                      struct kr_axis_in in[]);

/* The same in three parts, for a server: what a master wrote, time that passed, what a master reads. A drive
 * whose link is lost takes no write, and a read of it has link false. Slow answers are the server's to make. */
void sim_machine_write(struct sim_machine *m, uint16_t rail, const struct kr_axis_out *out);
void sim_machine_run(struct sim_machine *m, int64_t dt_us);
void sim_machine_read(const struct sim_machine *m, uint16_t rail, struct kr_axis_in *in);

/* The drive inputs that the machine gives, KR_DI_LINE_STOPPED and above; faults take theirs away. */
void sim_machine_set_inputs(struct sim_machine *m, uint16_t inputs);

/* Breaks something from now on, and mends it. item is a holder or a reference where the fault wants one, else it is
 * ignored, as value is. False, and nothing happens: rail, item or value out of range, or a hand that can't move the
 * holder because the pin has hold of it. Faults that happen once need no mending. */
bool sim_machine_break(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item,
                       int32_t value);
bool sim_machine_mend(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item);
bool sim_machine_broken(const struct sim_machine *m, uint16_t rail, enum sim_fault fault);

/* ---- the truth, for tests and displays ----------------------------------------------------------------- */

int32_t sim_machine_holder_um(const struct sim_machine *m, uint16_t rail, uint16_t holder);
/* How much further its blade sits than its edge offset says. */
int32_t sim_machine_blade_um(const struct sim_machine *m, uint16_t rail, uint16_t holder);
int32_t sim_machine_carriage_um(const struct sim_machine *m, uint16_t rail);
int32_t sim_machine_speed_um_per_s(const struct sim_machine *m, uint16_t rail); /* of the motor, signed */
int sim_machine_docked(const struct sim_machine *m,
                       uint16_t rail); /* holder in the pin's hold, SIM_NOBODY if none */
enum sim_phase sim_machine_phase(const struct sim_machine *m, uint16_t rail);
uint32_t sim_machine_entered(const struct sim_machine *m, uint16_t rail,
                             enum sim_phase phase);                         /* how often so far */
uint32_t sim_machine_setpoints(const struct sim_machine *m, uint16_t rail); /* that its drive took so far */
uint32_t sim_machine_releases(const struct sim_machine *m, uint16_t rail,
                              uint16_t holder); /* how often the pin let go of it so far */
int64_t sim_machine_now_us(const struct sim_machine *m);

/* The first collision since the start, or NULL. */
const struct sim_incident *sim_machine_collision(const struct sim_machine *m);
/* The first holder that an unseated pin dragged along, or NULL. */
const struct sim_incident *sim_machine_dragged(const struct sim_machine *m);
/* The least room between two bodies that ever was; INT32_MAX with less than two holders on every rail. */
int32_t sim_machine_least_gap_um(const struct sim_machine *m);

#endif
