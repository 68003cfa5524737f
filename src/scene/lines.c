#include "lines.h"

#include <stdio.h>
#include <string.h>

/* Counts the characters of a text in UTF-8. Each takes one column here. */
static int columns_of(const char *text)
{
    int n = 0;
    for (; *text; text++)
        n += ((unsigned char)*text & 0xC0u) != 0x80u;
    return n;
}

struct scene_fold scene_fold_begin(const char *label, int indent, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct scene_fold fold = {.to = to, .columns = style.columns, .indent = indent};
    snprintf(fold.label, sizeof fold.label, "%s", label);
    return fold;
}

static void begin_line(struct scene_fold *fold, const char *label, const char *word)
{
    snprintf(fold->text, sizeof fold->text, "%-*s%s", fold->indent, label, word);
    fold->used = columns_of(fold->text);
}

void scene_fold(struct scene_fold *fold, const char *word)
{
    size_t length = strlen(fold->text);
    if (fold->used == 0) {
        begin_line(fold, fold->label, word);
    } else if (fold->used + 3 + columns_of(word) <= fold->columns) { /* ", " before, a comma after */
        snprintf(fold->text + length, sizeof fold->text - length, ", %s", word);
        fold->used += 2 + columns_of(word);
    } else {
        snprintf(fold->text + length, sizeof fold->text - length, ",");
        fold->to.line(fold->to.arg, fold->text);
        begin_line(fold, "", word);
    }
}

void scene_fold_end(struct scene_fold *fold)
{
    if (fold->used > 0)
        fold->to.line(fold->to.arg, fold->text);
}
