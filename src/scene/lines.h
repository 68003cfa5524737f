/* Writes words into lines that are folded at their width, for the text painters. Private to src/scene. */
#ifndef SCENE_LINES_H
#define SCENE_LINES_H

#include "kniferail/scene.h"

/* A list of words with commas between them, folded at the width of a line. The following lines are indented like the
 * first one. */
struct scene_fold {
    struct kr_scene_lines to;
    int columns, indent;
    int used; /* columns of the line so far; 0: it has no word yet */
    char label[KR_SCENE_NAME_MAX];
    char text[4 * KR_SCENE_COLUMNS_MAX];
};
struct scene_fold scene_fold_begin(const char *label, int indent, struct kr_scene_style style,
                                   struct kr_scene_lines to);
void scene_fold(struct scene_fold *fold, const char *word);
void scene_fold_end(struct scene_fold *fold); /* writes the rest; nothing if there was no word */

#endif
