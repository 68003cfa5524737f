/* Prints a station's state in words, from an image that was read. */
#ifndef KNIFERAIL_CLI_STATUS_VIEW_H
#define KNIFERAIL_CLI_STATUS_VIEW_H

#include <stdio.h>

#include "kniferail/map.h"

#define KR_VIEW_LINE_MAX 100
/* Writes the signals to the line in words: whether it may start and run, and whether knives may be lowered or have to
 * be raised. Returns text. */
const char *kr_view_line(const struct kr_image *image, char text[KR_VIEW_LINE_MAX]);

void kr_view_station(FILE *to, const struct kr_image *image);
void kr_view_alarms(FILE *to, const struct kr_image *image);
void kr_view_verdict(FILE *to, const struct kr_image *image);
void kr_view_record(FILE *to, const struct kr_image *image);

/* Prints the sizes of holders that the station lists, and says what the columns of kr_view_holder_table() have. */
void kr_view_holder_legend(FILE *to, const struct kr_image *image);

/* Prints how a rail's drive works over the wire, and why the drive is refused if it is. Prints nothing if there is no
 * wire. */
void kr_view_drive(FILE *to, const struct kr_image *image, uint16_t rail);
/* Prints the edges of the rail that keep the line from running. */
void kr_view_edges(FILE *to, const struct kr_image *image, uint16_t rail);

/* Prints the position of the rail in the machine's frame, or nothing if the drive's position is the place itself. */
void kr_view_frame(FILE *to, const struct kr_image *image, uint16_t rail);

/* Prints the offset of the rail's proximity switch and its scan bias, or nothing if both are 0. */
void kr_view_switch(FILE *to, const struct kr_image *image, uint16_t rail);

/* Prints the rail's planned times, or nothing if no maintenance request has set them. */
void kr_view_times(FILE *to, const struct kr_image *image, uint16_t rail);

/* Prints what the rail's references have measured and corrected, or nothing if the rail has none. */
void kr_view_references(FILE *to, const struct kr_image *image, uint16_t rail);

/* Prints a table of a rail's holders. */
void kr_view_holder_table(FILE *to, const struct kr_image *image, uint16_t rail);

#endif
