/* A station's state in words, from an image that was read. Prints to standard output. */
#ifndef KNIFERAIL_CLI_STATUS_VIEW_H
#define KNIFERAIL_CLI_STATUS_VIEW_H

#include "kniferail/map.h"

void kr_view_station(const struct kr_image *image);
void kr_view_alarms(const struct kr_image *image);
void kr_view_verdict(const struct kr_image *image);
void kr_view_record(const struct kr_image *image);

/* The sizes of holders that the station lists. */
void kr_view_sizes(const struct kr_image *image);

/* What a rail's drive at the end of a wire is like, and why it is refused if it is; nothing of one without a wire. */
void kr_view_drive(const struct kr_image *image, uint16_t rail);
void kr_view_edges(const struct kr_image *image, uint16_t rail); /* those that keep the line from running */

/* The numbers of every holder of a rail. */
void kr_view_holder_table(const struct kr_image *image, uint16_t rail);

#endif
