/* The stations' figures for programs that keep figures over time: a text of samples, each with its labels, of the media
 * type text/plain, version 0.0.4. */
#ifndef KNIFERAIL_PANEL_METRICS_H
#define KNIFERAIL_PANEL_METRICS_H

#include "panel.h"

/* A text of malloc's, for the caller to free; NULL without memory. */
char *metrics_text(const struct panel *panel, size_t *size);

#endif
