/* drawing: the painter that draws a scene, or the figures of a report, as an SVG, PDF or PNG picture through cairo. A
 * picture can be read in black and white and without telling red from green, because shapes and strokes carry its
 * meaning. Lengths on paper are points (1/72 in). Stands on scene; the command line stands on it. Only one thread at a
 * time may use it. It allocates, and writes the file. */
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

/* Draws a picture as wide as an A4 page in landscape (842 points), and as high as needed: the rails to scale, and the
 * moves over time if the scene has any. subtitle is a line under the station's name, and may be empty. False: error
 * says why in one line, and the file may be incomplete. */
bool kr_drawing_picture(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form, const char *path,
                        char error[KR_DRAWING_ERROR_MAX]);

/* Draws the same picture into an open file, which stays open. name stands for the file in errors. */
bool kr_drawing_picture_to(const struct kr_scene *scene, const char *subtitle, enum kr_drawing_form form, FILE *file,
                           const char *name, char error[KR_DRAWING_ERROR_MAX]);

/* ---- figures: charts of a period, below each other on one page ------------------------------------------------- */

#define KR_FIGURE_PARTS_MAX 8
#define KR_FIGURE_LABEL_MAX 32

/* One bar of stacked parts, or one range. */
struct kr_figure_bar {
    char label[KR_FIGURE_LABEL_MAX];
    double part[KR_FIGURE_PARTS_MAX]; /* 0 or more */
    double low, middle, high;         /* limits and middle of a range */
    bool stands_out;                  /* a range that needs attention first */
};

struct kr_figure {
    const char *title; /* title, with the unit of the scale */
    int n_parts;       /* number of parts of each bar, at most KR_FIGURE_PARTS_MAX; 0: the bars are ranges */
    const char *part[KR_FIGURE_PARTS_MAX];
    int n_limits; /* number of dashed lines across the chart */
    double limit[2];
    size_t n;
    const struct kr_figure_bar *bar;
};

struct kr_figures {
    const char *title, *subtitle;
    size_t n;
    const struct kr_figure *figure;
};

/* Draws a page as wide as an A4 page in landscape, and as high as needed. Returns false as kr_drawing_picture()
 * does. */
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

/* The texts of the sheet beside the scene. They belong to the caller, and each is one line. */
struct kr_sheet_words {
    const char *what;    /* the content of the sheet: a plan, or a station as it was read */
    const char *when;    /* when it was made */
    const char *who;     /* who made it; may be empty */
    const char *caution; /* the usual cautions; its lines end with a newline */
};

/* Draws the rails to scale, and tables of cuts, knives, slits, lane centres, and the holders that do not cut. The more
 * rows there are, the smaller are the letters. Returns false as kr_drawing_picture() does, or if the content does not
 * fit one page. */
bool kr_drawing_sheet(const struct kr_scene *scene, const struct kr_sheet_words *words, enum kr_paper paper,
                      enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX]);

#endif
