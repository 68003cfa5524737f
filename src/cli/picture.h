/* The options that tell a command to draw its result into files. */
#ifndef KNIFERAIL_CLI_PICTURE_H
#define KNIFERAIL_CLI_PICTURE_H

#include "cli.h"
#include "kniferail/drawing.h"

struct kr_picture_options {
    const char *svg, *pdf, *png; /* names of files; NULL: not wanted */
};
/* The options that fill in `options`, for a command's list of options. */
#define KR_PICTURE_OPTIONS(options) \
    {"svg", &(options).svg, NULL}, {"pdf", &(options).pdf, NULL}, \
    { \
        "png", &(options).png, NULL \
    }

bool kr_picture_wanted(const struct kr_picture_options *options);

/* Draws into each file that is wanted. draw() draws `what` in that form into that file; if it returns false, error says
 * why. False: a file can't be written; the reason was printed. */
bool kr_picture_write_with(const char *command, const struct kr_picture_options *options,
                           bool (*draw)(const void *what, enum kr_drawing_form form, const char *path,
                                        char error[KR_DRAWING_ERROR_MAX]),
                           const void *what);

/* Does the same for a scene. */
bool kr_picture_write(const char *command, const struct kr_picture_options *options, const struct kr_scene *scene,
                      const char *subtitle);

#endif
