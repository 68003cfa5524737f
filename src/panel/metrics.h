/* The stations' figures for programs that collect figures over time: a text of samples with labels, of the media type
 * text/plain, version 0.0.4. */
#ifndef KNIFERAIL_PANEL_METRICS_H
#define KNIFERAIL_PANEL_METRICS_H

#include "panel.h"

/* Returns a text in memory from malloc(); the caller frees it. NULL: there is no memory. */
char *metrics_text(const struct panel *panel, size_t *size);

#endif
