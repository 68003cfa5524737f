#include "words.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "kniferail/map.h"

const char *word_for(const char *set, int number, char text[WORD_MAX])
{
    const struct kr_named_number *row;
    snprintf(text, WORD_MAX, "%d", number);
    for (size_t i = 0; (row = kr_named_number(i)) != NULL; i++)
        if (strcmp(row->set, set) == 0 && row->number == number)
            snprintf(text, WORD_MAX, "%s", row->name);
    for (char *c = text; *c != 0; c++) {
        if (*c == '_')
            *c = ' ';
        else
            *c = (char)tolower((unsigned char)*c);
    }
    return text;
}
