/* What `kniferail set` prints of what it did. */
#ifndef KNIFERAIL_CLI_SET_VIEW_H
#define KNIFERAIL_CLI_SET_VIEW_H

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

#endif
