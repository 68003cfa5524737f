#ifndef KR_STATION_KNIVES_H
#define KR_STATION_KNIVES_H

#include "kniferail/station.h"

/* Maintenance requests about knives of the book's ledger. The station knows which knife is on which holder. The book
 * knows everything else about a knife, and answers questions by the knife's name. A request names a holder and means
 * its knife, or it names no rail and means the knife that it names. */

/* The fields about a knife in a request. */
struct knife_asked {
    char name[KR_KNIFE_NAME_MAX], kind_name[KR_KNIFE_KIND_MAX];
    int32_t diameter_um, thickness_um;
    uint32_t metres;
    uint16_t given, to, cause, fragments;
};
void knife_decode(const struct kr_snapshot *edit, struct kr_format format, struct knife_asked *asked);

bool knife_own_kind(uint16_t kind);
bool knife_is_on_holder(const struct kr_edit *edit); /* false: the request names the knife */
bool knife_asks_ledger(const struct kr_edit *edit);
bool knife_comes_or_goes(const struct kr_edit *edit); /* hands take the knife off its holder, or put it on */
bool knife_sets_offset(const struct kr_edit *edit);   /* the request sets the holder's offset */

/* Judges the texts and numbers of a request, before the ledger is asked. */
struct kr_result knife_judge_asked(const struct kr_edit *edit, const struct knife_asked *asked);

/* If a mount gives no edge position, it takes the ledger's. */
void knife_take_edge(struct kr_edit *edit, const struct knife_asked *asked, const struct kr_knife_answer *ledger);

/* Judges a request. `on` is the holder's data; NULL: the request is for no holder. ledger is the answer about a named
 * knife. */
struct kr_result knife_judge(const struct kr_edit *edit, const struct knife_asked *asked,
                             const struct kr_holder_data *on, const struct kr_knife_answer *ledger);

/* Changes the holder's data by the request. */
void knife_change(struct kr_holder_data *data, const struct kr_edit *edit, const struct knife_asked *asked,
                  const struct kr_knife_answer *ledger);

/* Makes the event of a knife from an accepted request, old kinds of requests included. before is the holder's data
 * before the request, or NULL as for `on`. False: there is no event. */
bool knife_tell(const struct kr_edit *edit, const struct knife_asked *asked, const struct kr_holder_data *before,
                const struct kr_knife_answer *ledger, struct kr_knife_event *event);

#endif
