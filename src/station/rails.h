#ifndef KR_STATION_RAILS_H
#define KR_STATION_RAILS_H

#include "kniferail/station.h"

/* The station's rails, which the part motion controls: their input in a cycle, and what the station takes over from
 * them. */
struct rails {
    struct kr_motion motion[KR_RAILS_MAX];
    /* The part of durable.holder that the rails need. */
    struct kr_rail_holder holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    uint32_t generation[KR_RAILS_MAX];  /* generation of a rail's knowledge when it was last taken over */
    uint16_t places_seen[KR_RAILS_MAX]; /* its places_changed at that time */
    uint16_t moves_done[KR_RAILS_MAX];  /* number of moves of the plan that are done */
    /* The carriages as in the station file, with the frames in force. Those in the station's config also have the
     * corrections by references. */
    struct kr_carriage_config told[KR_RAILS_MAX];
};

void rails_init(struct kr_station *s);
/* Call it when the config is newly taken from the station file: its carriages are kept, get the frames in force, and
 * are corrected again. */
void rails_told(struct rails *rails, struct kr_station_config *config, const struct kr_durable *durable);

/* Returns the input of a rail. The caller adds mode and resets_faults where they matter. */
struct kr_motion_in rail_in(const struct kr_station *s, uint16_t r);
/* Bit r: the next scan of that rail may go fast between its flags, as far as it knows them. */
uint16_t rails_flags_known(const struct kr_station *s);
void rail_events(struct kr_station *s, uint16_t r, const struct kr_motion_out *out);
void rail_learned(struct kr_station *s, uint16_t r); /* takes over the rail's present knowledge */
/* Hands may have been at the rail's holders: their positions are at best remembered, permanently or only for now. Or it
 * turns out that nobody was there. */
enum rail_doubt { DOUBT_TO_STAY, DOUBT_FOR_NOW, DOUBT_IS_OVER };
void rail_doubt(struct kr_station *s, uint16_t r, enum rail_doubt how);
void rail_told(struct kr_station *s, uint16_t r, uint16_t holder_number, int32_t position_um, enum kr_known known);
/* A person confirms a rail's datum (KR_EDIT_DATUM), or that its holders are right though they were found off alike
 * (KR_EDIT_SHIFT); or sets its frame or its switch (KR_EDIT_FRAME, KR_EDIT_SWITCH and those that restore them, after
 * durable has changed). Or such a request is withdrawn. before is the shift that stood, or the correction of the scale
 * or of the switch by references. */
void rail_confirmed(struct kr_station *s, uint16_t r, enum kr_edit_kind what, bool is_right, int32_t before);
void rail_holder_changed(struct rails *rails, const struct kr_durable *durable, uint16_t r, uint16_t holder);

bool rails_at_rest(const struct rails *rails, uint16_t n_rails);
void rails_take_back(struct rails *rails); /* takes back every task */

/* Tells whether a scan must come before the next move, because a holder's position is not known well enough. */
#define ANY_RAIL UINT16_MAX
bool scan_is_due(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t rails);
/* For SCAN_DUE. The holder that a job is just moving is unknown until it is released, and requires no scan. */
bool scan_is_shown_due(const struct kr_station_config *config, const struct kr_durable *durable,
                       enum kr_unit_state state);

#endif
