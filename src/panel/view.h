/* What the panel says about a station, as JSON, made from an image that was read. Words are those of the register map's
 * lists; lengths are in micrometres, times in milliseconds or seconds, as the members' names say. It allocates memory,
 * and is pure otherwise. */
#ifndef KNIFERAIL_PANEL_VIEW_H
#define KNIFERAIL_PANEL_VIEW_H

#include <jansson.h>

#include "kniferail/scene.h"

/* All about a station. scene: room to work in. A new reference; NULL without memory. */
json_t *view_station(const struct kr_image *image, struct kr_scene *scene);

/* What a list of stations says of one: state, job, orders, line signals, alarms. A new reference; NULL without
 * memory. */
json_t *view_summary(const struct kr_image *image);

#endif
