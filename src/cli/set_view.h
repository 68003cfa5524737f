/* What `kniferail set` prints of what it did. */
#ifndef KNIFERAIL_CLI_SET_VIEW_H
#define KNIFERAIL_CLI_SET_VIEW_H

#include <stdbool.h>

#include "kniferail/client.h"

/* Reads what the request was for as it is now, and prints "accepted: rail 1, holder 3: in service, size 1 (1 in),
 * edge offset
 * -1.200 mm, ...". False: client->error says why. */
bool set_view_accepted(struct kr_client *client);

/* Reads whether the order in force is still verified, and says what is due if it isn't. False: client->error says
 * why. */
bool set_view_due(struct kr_client *client);

/* Reads what a test cut of so many strips proposes, and what is in force, and prints both. False: client->error says
 * why. */
bool set_view_proposal(struct kr_client *client, uint16_t n_strips);

/* Of a rail for which a test cut proposes edge offsets: which holders, and what their offsets are until then. */
struct set_view_offsets {
    uint16_t rail; /* from 1; 0: nothing is proposed */
    bool proposed[KR_HOLDERS_MAX];
    int32_t um[KR_HOLDERS_MAX];
};

/* Reads them. False: client->error says why. */
bool set_view_before(struct kr_client *client, struct set_view_offsets *before);

/* Once they are set: reads the offsets again, and prints for each holder what its offset was and what it has become.
 * False: client->error says why. */
bool set_view_applied(struct kr_client *client, const struct set_view_offsets *before);

/* Prints the cautions again where the accepted request means work on a knife, a holder, a pin or an edge. */
void set_view_caution(enum kr_edit_kind kind);

#endif
