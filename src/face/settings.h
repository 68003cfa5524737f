/* settings: judges a configuration before anything is built on it. Pure. */
#ifndef KR_FACE_SETTINGS_H
#define KR_FACE_SETTINGS_H

#include "kniferail/face.h"

/* Writes the first fault that is found to error, as one line that names the setting, the value and the limit. */
bool face_settings_check(const struct kr_face_config *config, char *error, size_t error_size);

/* Judges only what kr_face_reload() takes. */
bool face_settings_check_access(const struct kr_face_config *config, char *error, size_t error_size);

#endif
