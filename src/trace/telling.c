#include "telling.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void tell_line(const struct kr_story *story, uint16_t rail, bool important, const char *format, ...)
{
    char line[KR_STORY_LINE_MAX];
    va_list values;
    va_start(values, format);
    vsnprintf(line, sizeof line, format, values);
    va_end(values);
    story->teller.tell(story->teller.arg, story->utc_ms, rail, important, line);
}

const char *word_of(const char *set, int number, char text[TELLING_WORD_MAX])
{
    const struct kr_named_number *row;
    snprintf(text, TELLING_WORD_MAX, "%d", number);
    for (size_t i = 0; (row = kr_named_number(i)) != NULL; i++)
        if (row->number == number && strcmp(row->set, set) == 0)
            snprintf(text, TELLING_WORD_MAX, "%s", row->name);
    for (char *c = text; *c != 0; c++)
        if (*c == '_')
            *c = ' ';
        else
            *c = (char)tolower((unsigned char)*c);
    return text;
}
