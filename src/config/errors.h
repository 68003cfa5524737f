/* Collecting mistakes. */
#ifndef KNIFERAIL_CONFIG_ERRORS_H
#define KNIFERAIL_CONFIG_ERRORS_H

#include <libconfig.h>

#include "kniferail/config.h"

/* "file:line: path: text", the line being that of the setting `at`. */
__attribute__((format(printf, 4, 5))) void kr_mistake(struct kr_config_errors *errors,
                                                      const config_setting_t *at, const char *path,
                                                      const char *format, ...);

/* The same where there is no setting yet. line 0: none. */
__attribute__((format(printf, 4, 5))) void kr_mistake_in(struct kr_config_errors *errors, const char *file,
                                                         int line, const char *format, ...);

/* "stations.[0].rails.[1].min_mm", as the library looks it up; member may be NULL. */
#define KR_SETTING_PATH_MAX 160
void kr_setting_path(const config_setting_t *setting, const char *member, char path[KR_SETTING_PATH_MAX]);

#endif
