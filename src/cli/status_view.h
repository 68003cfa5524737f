/* A station's state in words and drawn to scale, from an image that was read. Prints to standard output. */
#ifndef KNIFERAIL_CLI_STATUS_VIEW_H
#define KNIFERAIL_CLI_STATUS_VIEW_H

#include "kniferail/map.h"

void kr_view_station(const struct kr_image *image);
void kr_view_alarms(const struct kr_image *image);
void kr_view_verdict(const struct kr_image *image);
void kr_view_record(const struct kr_image *image);

/* The sizes of holders that the station lists. */
void kr_view_sizes(const struct kr_image *image);

/* One rail: its carriage, and a drawing of its holders; with `table`, every holder's numbers too. */
void kr_view_rail(const struct kr_image *image, uint16_t rail, bool table);

#endif
