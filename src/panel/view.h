/* Makes the panel's JSON about a station from an image that was read. Words are taken from the register map's lists.
 * Lengths are in micrometres, times in milliseconds or seconds, as the names of the members say. It allocates memory,
 * and is pure otherwise. */
#ifndef KNIFERAIL_PANEL_VIEW_H
#define KNIFERAIL_PANEL_VIEW_H

#include <jansson.h>

#include "kniferail/scene.h"

/* Returns everything about a station as a new reference. scene: memory to work in. NULL: there is no memory. */
json_t *view_station(const struct kr_image *image, struct kr_scene *scene);

/* Returns what a list of stations shows of one: state, job, orders, line signals, alarms. A new reference; NULL: there
 * is no memory. */
json_t *view_summary(const struct kr_image *image);

#endif
