/* The simulated machine's settings: plain data, which the caller fills in and sim_machine_init() copies. The physics of
 * a rail is described by the table in parameters.def; positions in it are micrometres in the rail's own frame. */
#ifndef KNIFERAIL_SIM_CONFIG_H
#define KNIFERAIL_SIM_CONFIG_H

#include "kniferail/axis.h"

struct sim_holder_config {
    int32_t start_um; /* its centre; it must grow from holder to holder, except for holders off the rail */
    int32_t body_um;  /* width of its body: if two bodies overlap, they have collided */
    bool absent;      /* it is off the rail: it takes no room and has no flag */
    bool seized;      /* it can't move, even with its brake open */
};

#define SIM_JERK_MS_MAX 500 /* the greatest ratio of acceleration to jerk, for the drive's own acceleration limit */

#define SIM_REFERENCES_MAX 8
struct sim_reference_config { /* a flag that is fixed to the machine's frame */
    int32_t at_um;            /* its centre */
    int32_t width_um;
};

struct sim_rail_config {
    uint16_t n_holders;
    struct sim_holder_config holder[KR_HOLDERS_MAX];
    uint16_t n_references;
    struct sim_reference_config reference[SIM_REFERENCES_MAX];
    /* A second switch sees the references and nothing else; the first switch does not see them. */
    bool reference_switch_own;
#define P(name, value, least, most, meaning, source) int32_t name;
#include "sim/parameters.def"
};

struct sim_config {
    uint64_t seed; /* the same seed gives the same random errors */
    uint16_t n_rails;
    uint16_t inputs; /* drive inputs at the start: KR_DI_LINE_STOPPED and above */
    struct sim_rail_config rail[KR_RAILS_MAX];
};

#define SIM_INPUTS_ALL (KR_DI_LINE_STOPPED | KR_DI_KNIVES_RAISED | KR_DI_GUARDS_CLOSED | KR_DI_AIR | KR_DI_ENABLE)

/* One parameter of the table; the row is valid for ever. */
struct sim_parameter {
    const char *name;
    size_t offset; /* of the parameter's int32_t in struct sim_rail_config */
    int32_t value, least, most;
    const char *meaning, *source;
};
const struct sim_parameter *sim_parameter_at(size_t index);        /* NULL after the last one */
const struct sim_parameter *sim_parameter_named(const char *name); /* NULL: no such parameter */
int32_t sim_parameter_get(const struct sim_parameter *parameter, const struct sim_rail_config *rail);
void sim_parameter_set(const struct sim_parameter *parameter, struct sim_rail_config *rail, int32_t value);

/* Fills in a rail with the table's defaults and without holders. */
void sim_rail_defaults(struct sim_rail_config *rail);

/* A mistake in a config; `what` is NULL if there is none. */
struct sim_mistake {
    const char *what; /* name of the setting */
    uint16_t rail, holder;
    int64_t value, least, most;
};
struct sim_mistake sim_config_check(const struct sim_config *config);

#endif
