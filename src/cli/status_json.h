/* A station's state for programs: names from the map's lists, lengths in micrometres, and null for unknown values. */
#ifndef KNIFERAIL_CLI_STATUS_JSON_H
#define KNIFERAIL_CLI_STATUS_JSON_H

#include <jansson.h>

#include "kniferail/scene.h"

json_t *kr_status_json(const struct kr_image *image); /* NULL: there is no memory */

#endif
