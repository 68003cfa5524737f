/* The output of `kniferail set` about what it has changed. */
#ifndef KNIFERAIL_CLI_SET_VIEW_H
#define KNIFERAIL_CLI_SET_VIEW_H

#include <stdbool.h>

#include "kniferail/client.h"

/* Reads the present state of what the request changed, and prints "accepted: rail 1, holder 3: in service, size 1 (1
 * in), edge offset -1.200 mm, ...". False: client->error says why. */
bool set_view_accepted(struct kr_client *client);

/* Reads whether the order in force is still verified. If it is not, prints what has to be done. False: client->error
 * says why. */
bool set_view_due(struct kr_client *client);

/* Reads the edge offsets that a test cut of n_strips proposes, and those in force, and prints both. False:
 * client->error says why. */
bool set_view_proposal(struct kr_client *client, uint16_t n_strips);

/* Call it after a test cut: reads which edges of holders that cut are still not proven, and prints them with the ways
 * to prove them. pairs_seen: it was stated that each pair was looked at. False: client->error says why. */
bool set_view_unproven(struct kr_client *client, bool pairs_seen);

/* The holders of a rail for which a test cut proposes edge offsets, and their present offsets. */
struct set_view_offsets {
    uint16_t rail; /* from 1; 0: nothing is proposed */
    bool proposed[KR_HOLDERS_MAX];
    int32_t um[KR_HOLDERS_MAX];
};

/* Reads these holders and offsets. False: client->error says why. */
bool set_view_before(struct kr_client *client, struct set_view_offsets *before);

/* Call it when the proposal was set: reads the offsets again, and prints the old and the new offset of each holder.
 * False: client->error says why. */
bool set_view_applied(struct kr_client *client, const struct set_view_offsets *before);

/* Prints the cautions again if the accepted request means work on a knife, a holder, a pin or an edge. */
void set_view_caution(enum kr_edit_kind kind);

#endif
