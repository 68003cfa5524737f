/* Makes the scene of a changeover that the book has recorded. */
#ifndef KNIFERAIL_CLI_SHEET_RECORD_H
#define KNIFERAIL_CLI_SHEET_RECORD_H

#include "kniferail/history.h"
#include "kniferail/scene.h"

/* unit: the unit of length for people. */
void sheet_record_scene(const struct kr_history_changeover *from, const char *station, enum kr_length_unit unit,
                        struct kr_scene *scene);

#endif
