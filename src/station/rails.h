#ifndef KR_STATION_RAILS_H
#define KR_STATION_RAILS_H

#include "kniferail/station.h"

/* The station's rails, each moved by the part motion: what each is told in a cycle, and what the station takes over
 * from it. */
struct rails {
    struct kr_motion motion[KR_RAILS_MAX];
    /* What the rails must know of durable.holder. */
    struct kr_rail_holder holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    uint32_t generation[KR_RAILS_MAX];  /* of a rail's knowledge, as it was taken over last */
    uint16_t places_seen[KR_RAILS_MAX]; /* the same, of its places_changed */
    uint16_t moves_done[KR_RAILS_MAX];  /* of the plan */
    /* As the station file tells them, with the frames that count; those in the station's config are corrected by what
     * references have found. */
    struct kr_carriage_config told[KR_RAILS_MAX];
};

void rails_init(struct kr_station *s);
/* The config is the station file's, new: its carriages are told, get the frames that count, and are corrected again. */
void rails_told(struct rails *rails, struct kr_station_config *config, const struct kr_durable *durable);

/* What a rail is told; the caller adds mode and resets_faults where they matter. */
struct kr_motion_in rail_in(const struct kr_station *s, uint16_t r);
void rail_events(struct kr_station *s, uint16_t r, const struct kr_motion_out *out);
void rail_learned(struct kr_station *s, uint16_t r); /* takes over what the rail knows now */
/* Hands may have been at the rail's holders: their places are remembered at the best; for now, as long as nobody can
 * say; or nobody was there. */
enum rail_doubt { DOUBT_TO_STAY, DOUBT_FOR_NOW, DOUBT_IS_OVER };
void rail_doubt(struct kr_station *s, uint16_t r, enum rail_doubt how);
void rail_told(struct kr_station *s, uint16_t r, uint16_t holder_number, int32_t position_um,
               enum kr_known known);
/* A person confirms a rail's datum (KR_EDIT_DATUM), or that its holders are right though they were found off alike
 * (KR_EDIT_SHIFT), or says where it lies in the frame, or where its switch is (KR_EDIT_FRAME, KR_EDIT_SWITCH and
 * those that take them back: durable is that already); or that is taken back. before: the shift that stood, or what
 * references had found of the scale, or of the switch. */
void rail_confirmed(struct kr_station *s, uint16_t r, enum kr_edit_kind what, bool is_right, int32_t before);
void rail_holder_changed(struct rails *rails, const struct kr_durable *durable, uint16_t r, uint16_t holder);

bool rails_at_rest(const struct rails *rails, uint16_t n_rails);
void rails_take_back(struct rails *rails); /* every task */

/* Whether a scan has to come before the next move: some holder's place is not known well enough. */
#define ANY_RAIL UINT16_MAX
bool scan_is_due(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t rails);
/* For SCAN_DUE: the holder that a job is just moving is unknown until it is released, and calls for no scan. */
bool scan_is_shown_due(const struct kr_station_config *config, const struct kr_durable *durable,
                       enum kr_unit_state state);

#endif
