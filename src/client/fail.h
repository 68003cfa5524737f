/* Shared by the files of the client. */
#ifndef KNIFERAIL_CLIENT_FAIL_H
#define KNIFERAIL_CLIENT_FAIL_H

#include "kniferail/client.h"

#define CLIENT_MOST_REGISTERS 100 /* in one transfer: the limit of some masters, which the map respects */

/* Writes to client->error what failed, and libmodbus's reason. Returns false. */
bool client_fail(struct kr_client *client, const char *what);

#endif
