/* Notes on a station file: settings that are no mistakes, but that those who commission and run the machine should know
 * of. */
#ifndef KNIFERAIL_CLI_CHECK_NOTES_H
#define KNIFERAIL_CLI_CHECK_NOTES_H

#include "kniferail/config.h"

/* Prints a station's notes to standard output, each as a line that begins with "    note: ". */
void kr_check_notes(const struct kr_config_station *station);

#endif
