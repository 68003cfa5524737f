#include "picture.h"

#include <stdio.h>

bool kr_picture_wanted(const struct kr_picture_options *options)
{
    return options->svg != NULL || options->pdf != NULL || options->png != NULL;
}

bool kr_picture_write_with(const char *command, const struct kr_picture_options *options,
                           bool (*draw)(const void *what, enum kr_drawing_form form, const char *path,
                                        char error[KR_DRAWING_ERROR_MAX]),
                           const void *what)
{
    const char *const path[] = {
        [KR_DRAWING_SVG] = options->svg, [KR_DRAWING_PDF] = options->pdf, [KR_DRAWING_PNG] = options->png};
    char error[KR_DRAWING_ERROR_MAX];
    for (int form = 0; form <= KR_DRAWING_PNG; form++) {
        if (path[form] == NULL || draw(what, (enum kr_drawing_form)form, path[form], error))
            continue;
        fprintf(stderr, "kniferail %s: %s\n", command, error);
        return false;
    }
    return true;
}

struct titled_scene {
    const struct kr_scene *scene;
    const char *subtitle;
};

static bool draw_scene(const void *what, enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX])
{
    const struct titled_scene *titled = what;
    return kr_drawing_picture(titled->scene, titled->subtitle, form, path, error);
}

bool kr_picture_write(const char *command, const struct kr_picture_options *options, const struct kr_scene *scene,
                      const char *subtitle)
{
    struct titled_scene titled = {scene, subtitle};
    return kr_picture_write_with(command, options, draw_scene, &titled);
}
