/* A station's state in words, from an image that was read. */
#ifndef KNIFERAIL_CLI_STATUS_VIEW_H
#define KNIFERAIL_CLI_STATUS_VIEW_H

#include <stdio.h>

#include "kniferail/map.h"

void kr_view_station(FILE *to, const struct kr_image *image);
void kr_view_alarms(FILE *to, const struct kr_image *image);
void kr_view_verdict(FILE *to, const struct kr_image *image);
void kr_view_record(FILE *to, const struct kr_image *image);

/* The sizes of holders that the station lists. */
void kr_view_sizes(FILE *to, const struct kr_image *image);

/* What a rail's drive at the end of a wire is like, and why it is refused if it is; nothing of one without a wire. */
void kr_view_drive(FILE *to, const struct kr_image *image, uint16_t rail);
void kr_view_edges(FILE *to, const struct kr_image *image,
                   uint16_t rail); /* those that keep the line from running */

/* Where the rail's drive has its positions in the frame; nothing where its position is the place. */
void kr_view_frame(FILE *to, const struct kr_image *image, uint16_t rail);

/* Where its proximity switch is, and which way its scans go; nothing where both settings are 0. */
void kr_view_switch(FILE *to, const struct kr_image *image, uint16_t rail);

/* What the rail's references have found and corrected; nothing of one without references. */
void kr_view_references(FILE *to, const struct kr_image *image, uint16_t rail);

/* The numbers of every holder of a rail. */
void kr_view_holder_table(FILE *to, const struct kr_image *image, uint16_t rail);

#endif
