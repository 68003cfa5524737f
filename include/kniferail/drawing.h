/* drawing: the painter that draws a scene, or the figures of a report, as a picture: SVG, PDF or PNG, through cairo.
 * It is readable in black and white and without telling red from green: shapes and strokes carry what is meant.
 * Lengths on paper are points (1/72 in). Stands on scene; the command line stands on it. One thread at a time; it
 * allocates, and writes the file. */
#ifndef KNIFERAIL_DRAWING_H
#define KNIFERAIL_DRAWING_H

#include <stdio.h>

#include "kniferail/scene.h"

#define KR_DRAWING_FORMS(X) \
    X(SVG, "svg") \
    X(PDF, "pdf") \
    X(PNG, "png")
enum kr_drawing_form {
#define X(name, word) KR_DRAWING_##name,
    KR_DRAWING_FORMS(X)
#undef X
};

#define KR_DRAWING_ERROR_MAX 200

/* A picture as wide as an A4 page lies (842 points), as high as it has to be: the rails to scale, and the moves over
 * time where the scene has some. subtitle: a line under the station's name, may be empty. False: error says why in one
 * line; the file may be incomplete. */
bool kr_drawing_picture(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form,
                        const char *path, char error[KR_DRAWING_ERROR_MAX]);

/* The same into a file that is open, which stays open; name stands for it in errors. */
bool kr_drawing_picture_to(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form,
                           FILE *file, const char *name, char error[KR_DRAWING_ERROR_MAX]);

/* ---- figures: charts of a period, below each other on one page ------------------------------------------------- */

#define KR_FIGURE_PARTS_MAX 8
#define KR_FIGURE_LABEL_MAX 32

/* One bar, whose parts stand on each other, or one range. */
struct kr_figure_bar {
    char label[KR_FIGURE_LABEL_MAX];
    double part[KR_FIGURE_PARTS_MAX]; /* 0 or more */
    double low, middle, high;         /* of a range */
    bool stands_out;                  /* a range to look at first */
};

struct kr_figure {
    const char *title; /* with the unit of the scale */
    int n_parts;       /* of each bar, at most KR_FIGURE_PARTS_MAX; 0: they are ranges */
    const char *part[KR_FIGURE_PARTS_MAX];
    int n_limits; /* dashed lines across */
    double limit[2];
    size_t n;
    const struct kr_figure_bar *bar;
};

struct kr_figures {
    const char *title, *subtitle;
    size_t n;
    const struct kr_figure *figure;
};

/* A page as wide as an A4 page lies, as high as it has to be. False as kr_drawing_picture(). */
bool kr_drawing_figures(const struct kr_figures *page, enum kr_drawing_form form, const char *path,
                        char error[KR_DRAWING_ERROR_MAX]);

/* ---- the sheet: one page, to pin on the machine ---------------------------------------------------------------- */

#define KR_PAPERS(X) \
    X(A4, "a4") \
    X(LETTER, "letter")
enum kr_paper {
#define X(name, word) KR_PAPER_##name,
    KR_PAPERS(X)
#undef X
};

/* What stands on the sheet beside the scene; the texts are the caller's, one line each. */
struct kr_sheet_words {
    const char *what;    /* what the sheet shows: a plan, a station as it was read */
    const char *when;    /* when it was made */
    const char *who;     /* who made it; may be empty */
    const char *caution; /* the usual cautions; its lines end with a newline */
};

/* The rails to scale, and tables of cuts, knives, slits and lane centres, and of the holders that do not cut; in
 * smaller letters the more there are. False as kr_drawing_picture(), or if all of it does not fit one page. */
bool kr_drawing_sheet(const struct kr_scene *scene, const struct kr_sheet_words *words, enum kr_paper paper,
                      enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX]);

#endif
