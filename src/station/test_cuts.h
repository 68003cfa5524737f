#ifndef KR_STATION_TEST_CUTS_H
#define KR_STATION_TEST_CUTS_H

#include "kniferail/offsets.h"
#include "planning.h"

/* The last verified placement of the order in force: which holder makes each edge, and where it stood. */
struct placed {
    bool valid;
    uint16_t rail, n_slits, n_cuts, first_slit_edge;
    uint16_t order_generation; /* of the plan in force then: by a later plan other holders may make the cuts */
    uint16_t holder[KR_CUTS_MAX];
    int32_t centre_um[KR_CUTS_MAX];
};

/* Test cuts. Strips of the order as it was placed are measured by hand. The measurements become proposals for the edge
 * offsets of the rail that makes the slits, and a confirmation sets them. */
struct test_cuts {
    struct placed placed;
    uint16_t n_strips, test_cuts;
    struct kr_strips strips[KR_STRIPS_MAX];
    bool proposed, pairs_looked_at; /* as the last request stated */
    struct kr_offsets fit;
    uint16_t n_residuals;
    int32_t residual_um[KR_SLITS_MAX];
    uint32_t n_told;                   /* test cuts told to the book, since the start */
    int32_t before_um[KR_HOLDERS_MAX]; /* what to restore if the change can't be stored */
};

struct kr_result test_cuts_request(struct kr_station *s, const struct kr_edit *edit);
void test_cuts_end(struct test_cuts *o, struct kr_durable *durable, uint16_t kind, bool stored);

/* Returns a holder's edge offset before the change that is being stored. */
int32_t test_cuts_before_um(const struct test_cuts *o, const struct kr_durable *durable, uint16_t rail,
                            uint16_t holder);

void test_cuts_placed(struct test_cuts *o, const struct kr_station_config *config, const struct kr_durable *durable,
                      const struct planning *planning);
/* The strips of an order concern only its own placement. */
void test_cuts_order_changed(struct test_cuts *o);
void test_cuts_touched(struct test_cuts *o, uint16_t rail, uint16_t holder_number);

#endif
