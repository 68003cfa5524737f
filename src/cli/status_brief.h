/* A station in a few lines: what fits a terminal of 80 columns and 24 rows. */
#ifndef KNIFERAIL_CLI_STATUS_BRIEF_H
#define KNIFERAIL_CLI_STATUS_BRIEF_H

#include <stdio.h>

#include "kniferail/scene.h"

/* State, job, orders, line, what is missing, standing alarms with what to do about them, and the rails to scale. Of
 * alarms there are only as many as leave the whole within `rows` lines; the first always, and how many more stand is
 * told. What the marks mean is told where there is room for it. */
void kr_status_brief(FILE *to, const struct kr_image *image, struct kr_scene_style style, int rows);

#endif
