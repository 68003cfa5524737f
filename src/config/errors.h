/* Collects the mistakes of a config file. */
#ifndef KNIFERAIL_CONFIG_ERRORS_H
#define KNIFERAIL_CONFIG_ERRORS_H

#include <libconfig.h>

#include "kniferail/config.h"

/* Adds the message "file:line: path: text" to errors, with the line of the setting `at`. */
__attribute__((format(printf, 4, 5))) void kr_mistake(struct kr_config_errors *errors, const config_setting_t *at,
                                                      const char *path, const char *format, ...);

/* Does the same where there is no setting yet. A line of 0 stands for the file as a whole. */
__attribute__((format(printf, 4, 5))) void kr_mistake_in(struct kr_config_errors *errors, const char *file, int line,
                                                         const char *format, ...);

/* Writes the path of a setting, or of its member, as libconfig looks it up: "stations.[0].rails.[1].min_mm". member may
 * be NULL. */
#define KR_SETTING_PATH_MAX 160
void kr_setting_path(const config_setting_t *setting, const char *member, char path[KR_SETTING_PATH_MAX]);

#endif
