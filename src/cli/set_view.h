/* What `kniferail set` prints of what it did. */
#ifndef KNIFERAIL_CLI_SET_VIEW_H
#define KNIFERAIL_CLI_SET_VIEW_H

#include "client.h"

/* "edge offset of rail 1, holder 3: -1.200 mm", from the image after it was accepted. */
void set_view_accepted(const struct kr_image *image);

/* Reads what a test cut of so many strips proposes, and what is in force, and prints both. False: client->error says why. */
bool set_view_proposal(struct kr_client *client, uint16_t n_strips);

#endif
