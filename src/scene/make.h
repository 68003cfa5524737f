/* What the makers of a scene share. Private to src/scene. */
#ifndef SCENE_MAKE_H
#define SCENE_MAKE_H

#include "kniferail/scene.h"

/* Sets low_um and high_um so that all that is drawn lies between them. */
void scene_bound(struct kr_scene *scene);

#endif
