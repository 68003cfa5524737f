#include <math.h>
#include <string.h>

#include "chart.h"
#include "rails.h"
#include "surface.h"

#define WIDTH         842.0 /* of an A4 page that lies: ISO 216, 297 mm */
#define MARGIN        24.0
#define LABELS        48.0 /* left of the scale */
#define LABEL_COLUMNS 14   /* before what a line of text tells */

static void add_word(void *arg, const char *text)
{
    char(*line)[KR_SCENE_COLUMNS_MAX * 4] = arg;
    size_t used = 0;
    while ((*line)[used] != '\0')
        used++;
    text += strlen(text) > LABEL_COLUMNS ? LABEL_COLUMNS : 0;
    snprintf(*line + used, sizeof *line - used, "%s%s", used ? " " : "Web ", text);
}

static double head(const struct pen *pen, const char *subtitle, double y)
{
    char line[KR_SCENE_COLUMNS_MAX * 4] = "", title[96];
    const struct kr_scene *s = pen->scene;
    if (s->order_number != 0)
        snprintf(title, sizeof title, "%s, order %u", s->station, (unsigned)s->order_number);
    else
        snprintf(title, sizeof title, "%s", s->station);
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, MARGIN, y + 12, 13, PEN_LEFT, title);
    pen_bold(pen, false);
    kr_scene_text_web(s, (struct kr_scene_style){KR_SCENE_COLUMNS_MAX, false},
                      (struct kr_scene_lines){add_word, &line});
    pen_text(pen, MARGIN, y + 26, 8, PEN_LEFT, line);
    pen_text(pen, MARGIN, y + 38, 8, PEN_LEFT, subtitle);
    return y + 50;
}

static double draw(const struct pen *pen, const char *subtitle)
{
    double y = head(pen, subtitle, MARGIN);
    y = rails_draw(pen, y);
    y = rails_legend(pen, y + 6);
    for (uint16_t r = 0; r < pen->scene->n_rails; r++)
        y = chart_draw(pen, &pen->scene->rail[r], y);
    return ceil(y + MARGIN);
}

/* The height of the picture is known only when it has been drawn, so it is first drawn without output. */
static double height_of(const struct kr_scene *scene, const char *subtitle)
{
    cairo_surface_t *nowhere = cairo_recording_surface_create(CAIRO_CONTENT_COLOR, NULL);
    struct pen pen = {cairo_create(nowhere), scene, MARGIN + LABELS, WIDTH - MARGIN};
    double height = draw(&pen, subtitle);
    cairo_destroy(pen.cr);
    cairo_surface_destroy(nowhere);
    return height;
}

static bool finish(struct surface *s, const struct kr_scene *scene, const char *subtitle,
                   char error[KR_DRAWING_ERROR_MAX])
{
    struct pen pen = {s->cr, scene, MARGIN + LABELS, WIDTH - MARGIN};
    draw(&pen, subtitle);
    return surface_close(s, error);
}

bool kr_drawing_picture_to(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form, FILE *file,
                           const char *name, char error[KR_DRAWING_ERROR_MAX])
{
    struct surface s;
    surface_begin(&s, form, file, name, WIDTH, height_of(scene, subtitle));
    return finish(&s, scene, subtitle, error);
}

bool kr_drawing_picture(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form, const char *path,
                        char error[KR_DRAWING_ERROR_MAX])
{
    struct surface s;
    if (!surface_open(&s, form, path, WIDTH, height_of(scene, subtitle), error))
        return false;
    return finish(&s, scene, subtitle, error);
}
