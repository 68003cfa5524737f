#include "check_notes.h"

#include <stdio.h>

static uint16_t rails_of(const struct kr_geometry *g, enum kr_role role)
{
    uint16_t n = 0;
    for (uint16_t i = 0; i < g->n_rails; i++)
        n = (uint16_t)(n + (g->rail[i].role == role));
    return n;
}

/* A plan gives every cut one holder on every rail. */
static void note_doubled(const struct kr_geometry *g, enum kr_role role)
{
    uint16_t n = rails_of(g, role);
    if (n > 1)
        printf("    note: there are %u %s rails: each of them makes every cut of an order, so that every cut has %u %s "
               "knives\n",
               n, kr_number_word("RAIL_ROLE", (int)role), n, kr_number_word("RAIL_ROLE", (int)role));
}

static void note_test_cuts(const struct kr_geometry *g)
{
    enum kr_role role = rails_of(g, KR_LOWER) > 0 ? KR_LOWER : KR_UPPER;
    uint16_t first = 0;
    while (g->rail[first].role != role)
        first++;
    if (rails_of(g, role) > 1)
        printf("    note: a test cut proposes edge offsets for rail %u alone, not for the other %s rails\n", first + 1u,
               kr_number_word("RAIL_ROLE", (int)role));
}

static void note_cut(const struct kr_config_station *s)
{
    if (s->cut == KR_CUT_SHEAR && rails_of(&s->station.geometry, KR_LOWER) == 0)
        printf("    note: without a lower rail no pair of knives is judged; set cut to \"score\" or \"razor\" if that "
               "is how the knives cut\n");
}

static void note_datum(const struct kr_config_station *s, uint16_t rail)
{
    if (s->drive[rail].map.referenced_bit == KR_NO_BIT)
        printf("    note: rail %u: referenced_bit is -1: the drive always counts as having its datum, also after a "
               "change of drive,\n"
               "          encoder or battery. That is right only for an absolute encoder; otherwise name the bit of "
               "its statusword\n",
               rail + 1u);
}

static void note_exchanged(const struct kr_config_station *s, uint16_t rail)
{
    if (s->drive[rail].n_expected == 0)
        printf("    note: rail %u: `expected` lists no parameters of the drive, so that a drive in factory settings "
               "that was\n"
               "          put in its place is not noticed\n",
               rail + 1u);
}

static void note_second_gateway(const struct kr_config_station *s, uint16_t rail)
{
    if (s->drive[rail].map.address[KR_OBJECT_OWNER] != KR_NO_REGISTER)
        return;
    if (s->drive[rail].read_back)
        printf("    note: rail %u: a second gateway on this drive is noticed by what it writes: one that rests is not "
               "noticed\n"
               "          until one of the two moves; with registers.owner it is\n",
               rail + 1u);
    else
        printf("    note: rail %u: a second gateway on this drive can't be noticed: name a register for that as "
               "registers.owner,\n"
               "          or set read_back if the drive's outputs can be read\n",
               rail + 1u);
}

void kr_check_notes(const struct kr_config_station *s)
{
    const struct kr_geometry *g = &s->station.geometry;
    note_cut(s);
    note_doubled(g, KR_UPPER);
    note_doubled(g, KR_LOWER);
    note_test_cuts(g);
    for (uint16_t i = 0; s->positioner == KR_POSITIONER_MODBUS && i < g->n_rails; i++) {
        note_datum(s, i);
        note_exchanged(s, i);
        note_second_gateway(s, i);
    }
}
