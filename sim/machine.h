/* machine: the simulated slitter rails, from the registers of the drives to the true position of each holder. It takes
 * the place of real drives behind the positioner's interface, in the same process or over a wire.
 *
 * The caller owns the memory, and nothing is allocated. The state is flat and contains no pointers, so a copy of it is
 * a checkpoint. Time is passed as an argument. Physics is computed in sub-steps of one millisecond, so the same outputs
 * give the same machine, bit for bit, however the time is divided. Not thread-safe: only one caller at a time. */
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
/* Returns what has to be named besides a rail: "HOLDER", "REFERENCE", "". */
const char *sim_item_word(enum sim_item item);
#define SIM_VALUES(X) /* name, word in lists */ \
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
    const char *name; /* the name in scripts and commands */
    enum sim_item item;
    enum sim_value value;
    int32_t least, most;
    const char *what;
};
/* NULL: there is no such fault. The rows are valid for ever. */
const struct sim_fault_info *sim_fault_info(enum sim_fault fault);

/* ---- phases -------------------------------------------------------------------------------------------- */

/* What a carriage is doing, as an observer would name it. The phases from docking to releasing begin when the pin
 * leaves its rest, and end when the pin is out again. */
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
    /* With slow answers: an exchange is under way; it has an image; one has arrived. */
    bool waiting, sampled, delivered;
    int64_t due_us, sampled_us, delivered_us, last_good_us;
    struct kr_axis_in sample, image;
};

struct sim_axis {
    struct sim_drive drive;
    struct sim_rail rail;
    struct sim_switch sw, reference_sw; /* reference_sw is used only if references have their own switch */
    struct sim_probe probe, probe_2;
    struct sim_wire wire;
    enum sim_phase phase;
    uint32_t entered[SIM_N_PHASES]; /* how often each phase was entered */
    uint64_t broken;                /* the faults that are present: bit 1 << enum sim_fault */
    int32_t value[SIM_N_FAULTS];    /* value of each fault that is present */
};

struct sim_machine {
    struct sim_config config;
    int64_t now_us, left_us; /* left_us: elapsed time that is not a whole sub-step yet */
    uint16_t inputs;
    struct sim_incidents incidents;
    struct sim_axis axis[KR_RAILS_MAX];
};

/* ---- running it ---------------------------------------------------------------------------------------- */

/* Copies the config. If `what` of the result is not NULL, the config was refused, and the machine is unchanged. */
struct sim_mistake sim_machine_init(struct sim_machine *m, const struct sim_config *config);

/* Makes one exchange with every drive: out[] applies during dt_us (0 or more), and in[] receives the drives' answers
 * after that. Both have n_rails entries. */
void sim_machine_step(struct sim_machine *m, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[]);

/* The same exchange in three parts, for a server: what a master wrote, the time that passed, and what a master reads. A
 * drive whose link is lost takes no outputs, and its inputs say link false. The server itself must delay slow
 * answers. */
void sim_machine_write(struct sim_machine *m, uint16_t rail, const struct kr_axis_out *out);
void sim_machine_run(struct sim_machine *m, int64_t dt_us);
void sim_machine_read(const struct sim_machine *m, uint16_t rail, struct kr_axis_in *in);

/* Sets the drive inputs that the machine gives: KR_DI_LINE_STOPPED and above. Faults take their inputs away. */
void sim_machine_set_inputs(struct sim_machine *m, uint16_t inputs);

/* Begins a fault, and ends it. item is a holder or a reference if the fault needs one; otherwise item is ignored, and
 * so is value. False: rail, item or value is out of range, or the holder can't be moved by hand because the pin holds
 * it; nothing has happened then. Faults that happen once need no end. */
bool sim_machine_break(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value);
bool sim_machine_mend(struct sim_machine *m, uint16_t rail, enum sim_fault fault, uint16_t item);
bool sim_machine_broken(const struct sim_machine *m, uint16_t rail, enum sim_fault fault);

/* ---- the truth, for tests and displays ----------------------------------------------------------------- */

int32_t sim_machine_holder_um(const struct sim_machine *m, uint16_t rail, uint16_t holder);
/* Returns how far its blade sits from the position that its edge offset says. */
int32_t sim_machine_blade_um(const struct sim_machine *m, uint16_t rail, uint16_t holder);
int32_t sim_machine_carriage_um(const struct sim_machine *m, uint16_t rail);
int32_t sim_machine_speed_um_per_s(const struct sim_machine *m, uint16_t rail); /* of the motor, signed */
/* The holder that the pin holds, SIM_NOBODY if there is none. */
int sim_machine_docked(const struct sim_machine *m, uint16_t rail);
enum sim_phase sim_machine_phase(const struct sim_machine *m, uint16_t rail);
/* How often the phase was entered so far. */
uint32_t sim_machine_entered(const struct sim_machine *m, uint16_t rail, enum sim_phase phase);
/* How many set-points the drive has taken so far. */
uint32_t sim_machine_setpoints(const struct sim_machine *m, uint16_t rail);
/* How often the pin has released the holder so far. */
uint32_t sim_machine_releases(const struct sim_machine *m, uint16_t rail, uint16_t holder);
int64_t sim_machine_now_us(const struct sim_machine *m);

/* The first collision since the start, or NULL. */
const struct sim_incident *sim_machine_collision(const struct sim_machine *m);
/* The first holder that a pin dragged along without being seated, or NULL. */
const struct sim_incident *sim_machine_dragged(const struct sim_machine *m);
/* The smallest gap between two bodies that there ever was; INT32_MAX if no rail has two holders. */
int32_t sim_machine_least_gap_um(const struct sim_machine *m);

#endif
