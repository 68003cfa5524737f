#include "stations.h"

#include <string.h>

/* Finds the next station from unit_id on, with its name, and its identifier in address. False: there is none, or no
 * answer. */
static bool next(struct kr_client *client, struct kr_client_address *address, int unit_id, char name[KR_NAME_MAX])
{
    for (; unit_id <= KR_UNIT_ID_MAX; unit_id++) {
        address->unit_id = unit_id;
        if (kr_client_open(client, address)) {
            kr_get_text(&client->image, KR_REG_STATION_NAME, name, KR_NAME_MAX);
            kr_client_close(client);
            return true;
        }
        if (strstr(client->error, "no station with unit identifier") == NULL)
            return false;
    }
    return false;
}

bool kr_station_named(struct kr_client *client, struct kr_client_address *address, const char *name)
{
    char found[KR_NAME_MAX];
    for (int unit_id = 1; next(client, address, unit_id, found); unit_id = address->unit_id + 1)
        if (strcmp(found, name) == 0)
            return true;
    if (address->unit_id > KR_UNIT_ID_MAX || strstr(client->error, "no station with unit identifier") != NULL)
        snprintf(client->error, sizeof client->error, "the gateway has no station '%.40s'", name);
    return false;
}

int kr_stations_print(struct kr_client *client, const struct kr_client_address *address, FILE *to)
{
    struct kr_client_address at = *address;
    char found[KR_NAME_MAX];
    int n = 0;
    for (int unit_id = 1; next(client, &at, unit_id, found); unit_id = at.unit_id + 1) {
        fprintf(to, "  --unit %-4d %s\n", at.unit_id, found);
        n++;
    }
    return n;
}
