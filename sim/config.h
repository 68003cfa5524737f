/* The simulated machine's settings: plain data, made by the caller, copied by sim_machine_init(). The physics
 * of a rail is the table in parameters.def; positions in it are micrometres in the rail's own frame. */
#ifndef KNIFERAIL_SIM_CONFIG_H
#define KNIFERAIL_SIM_CONFIG_H

#include "kniferail/axis.h"

struct sim_holder_config {
    int32_t start_um; /* centre; grows from holder to holder, those off the rail left out */
    int32_t body_um;  /* width of its body: two bodies that overlap are a collision */
    bool absent;      /* off the rail: no room, no flag */
    bool seized;      /* opening its brake doesn't free it */
};

#define SIM_JERK_MS_MAX 500 /* acceleration / jerk, of the drive's own limit of acceleration */

#define SIM_REFERENCES_MAX 8
struct sim_reference_config { /* a flag fixed to the machine's frame */
    int32_t at_um;            /* its centre */
    int32_t width_um;
};

struct sim_rail_config {
    uint16_t n_holders;
    struct sim_holder_config holder[KR_HOLDERS_MAX];
    uint16_t n_references;
    struct sim_reference_config reference[SIM_REFERENCES_MAX];
    bool
        reference_switch_own; /* a second switch sees them, which sees nothing else, and the first one does not */
#define P(name, value, least, most, meaning, source) int32_t name;
#include "sim/parameters.def"
};

struct sim_config {
    uint64_t seed; /* the same seed draws the same errors */
    uint16_t n_rails;
    uint16_t inputs; /* drive inputs at the start: KR_DI_LINE_STOPPED and above */
    struct sim_rail_config rail[KR_RAILS_MAX];
};

#define SIM_INPUTS_ALL \
    (KR_DI_LINE_STOPPED | KR_DI_KNIVES_RAISED | KR_DI_GUARDS_CLOSED | KR_DI_AIR | KR_DI_ENABLE)

/* One parameter of the table; the row lives for ever. */
struct sim_parameter {
    const char *name;
    size_t offset; /* of its int32_t in struct sim_rail_config */
    int32_t value, least, most;
    const char *meaning, *source;
};
const struct sim_parameter *sim_parameter_at(size_t index);        /* NULL behind the last */
const struct sim_parameter *sim_parameter_named(const char *name); /* NULL: no such parameter */
int32_t sim_parameter_get(const struct sim_parameter *parameter, const struct sim_rail_config *rail);
void sim_parameter_set(const struct sim_parameter *parameter, struct sim_rail_config *rail, int32_t value);

/* A rail with the table's defaults and no holder yet. */
void sim_rail_defaults(struct sim_rail_config *rail);

/* What is wrong with a config: what is NULL if nothing is. */
struct sim_mistake {
    const char *what; /* name of the setting */
    uint16_t rail, holder;
    int64_t value, least, most;
};
struct sim_mistake sim_config_check(const struct sim_config *config);

#endif
