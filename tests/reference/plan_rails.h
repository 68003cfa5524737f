/* Planning problems of one rail that look like work on a real machine, by family; same seed, same problem. All can be
 * done. */
#ifndef PLAN_RAILS_H
#define PLAN_RAILS_H

#include "kniferail/plan.h"

enum {
    RAILS_RANDOM,      /* most holders cut, old and new cuts at random */
    RAILS_SHIFT,       /* all slits the same, the web moved aside */
    RAILS_FAN_OUT,     /* narrow slits before, wide after */
    RAILS_FAN_IN,      /* the other way */
    RAILS_INTERLEAVED, /* half of the holders idle, resting between the others */
    RAILS_FEW,         /* one in five cuts */
    RAILS_OUTSIDE,     /* idle holders have to leave the web */
    RAILS_CROWDED,     /* the rail is nearly full */
    RAILS_SPARSE,      /* room everywhere */
    RAILS_STATES,      /* some out of service, fixed or absent, sizes mixed, offsets */
    RAILS_CONTACT,     /* stacks in contact, measured with some error */
    RAILS_APPROACH,    /* one-sided approach with overtravel */
    RAILS_NOTHING,     /* all stand where they should */
    RAILS_PUSHED,      /* stacks pushed together by hand, nearer than their spacing */
    RAILS_PRESSED,     /* one such stack of all, and most of them idle */
    RAILS_FAMILIES
};

extern const char *const rails_name[RAILS_FAMILIES];

/* n_holders of one rail, its speeds by profile (0 to 3). False if this seed gives nothing that can be done. */
bool rails_make(int family, int n_holders, int profile, uint64_t seed, struct kr_plan_request *request);

#endif
