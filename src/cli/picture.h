/* The options with which a command draws what it tells into files. */
#ifndef KNIFERAIL_CLI_PICTURE_H
#define KNIFERAIL_CLI_PICTURE_H

#include "cli.h"
#include "kniferail/drawing.h"

struct kr_picture_options {
    const char *svg, *pdf, *png; /* names of files; NULL: none is wanted */
};
/* The options that set `options`, to stand in a command's list. */
#define KR_PICTURE_OPTIONS(options) \
    {"svg", &(options).svg, NULL}, {"pdf", &(options).pdf, NULL}, \
    { \
        "png", &(options).png, NULL \
    }

bool kr_picture_wanted(const struct kr_picture_options *options);

/* Draws into each file that is wanted. False after telling why one can't be written. draw draws `what` as that form
 * into that file; false: error says why. */
bool kr_picture_write_with(const char *command, const struct kr_picture_options *options,
                           bool (*draw)(const void *what, enum kr_drawing_form form, const char *path,
                                        char error[KR_DRAWING_ERROR_MAX]),
                           const void *what);

/* The same of a scene. */
bool kr_picture_write(const char *command, const struct kr_picture_options *options,
                      const struct kr_scene *scene, const char *subtitle);

#endif
