/* Makes the face's settings from the config. */
#ifndef DAEMON_FACE_CONFIG_H
#define DAEMON_FACE_CONFIG_H

#include "kniferail/config.h"
#include "kniferail/face.h"

void face_config_from(const struct kr_config *config, struct kr_face_config *face);

#endif
