/* Shows a station in a few lines, which fit a terminal of 80 columns and 24 rows. */
#ifndef KNIFERAIL_CLI_STATUS_BRIEF_H
#define KNIFERAIL_CLI_STATUS_BRIEF_H

#include <stdio.h>

#include "kniferail/scene.h"

/* Prints state, job, orders, line signals, missing conditions, standing alarms with their remedies, and the rails to
 * scale. Only as many alarms are printed as fit, with the rest, into `rows` lines; the first alarm is always printed,
 * and the number of further ones. The legend of the marks is printed if there is room for it. */
void kr_status_brief(FILE *to, const struct kr_image *image, struct kr_scene_style style, int rows);

#endif
