/* What the text painters share: words that are folded into lines. Private to src/scene. */
#ifndef SCENE_LINES_H
#define SCENE_LINES_H

#include "kniferail/scene.h"

/* Words between commas, folded at the width of a line; the lines after the first are indented as far as the first. */
struct scene_fold {
    struct kr_scene_lines to;
    int columns, indent;
    int used; /* columns of the line so far; 0: nothing was said yet */
    char label[KR_SCENE_NAME_MAX];
    char text[4 * KR_SCENE_COLUMNS_MAX];
};
struct scene_fold scene_fold_begin(const char *label, int indent, struct kr_scene_style style,
                                   struct kr_scene_lines to);
void scene_fold(struct scene_fold *fold, const char *word);
void scene_fold_end(struct scene_fold *fold); /* prints what is left; nothing if no word came */

#endif
