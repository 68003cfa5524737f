/* Shared by the files of the client. */
#ifndef KNIFERAIL_CLIENT_FAIL_H
#define KNIFERAIL_CLIENT_FAIL_H

#include "kniferail/client.h"

#define CLIENT_MOST_REGISTERS 100 /* in one transfer: the limit of some masters, for which the map is made */

/* Writes what failed, and libmodbus's reason, into error. Returns false. */
bool client_fail(struct kr_client *client, const char *what);

#endif
