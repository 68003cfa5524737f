#include "text_fill.h"

#include <stdbool.h>
#include <string.h>

/* Returns the length of the name if a mark begins here, and 0 otherwise. */
static size_t name_length(const char *at)
{
    size_t n = strspn(at + 1, "ABCDEFGHIJKLMNOPQRSTUVWXYZ_");
    return at[1 + n] == '@' && n < TEXT_FILL_NAME_MAX ? n : 0;
}

void text_fill(FILE *to, const char *text, text_fill_put *put, const void *data)
{
    const char *done = text;
    for (const char *at = text; (at = strchr(at, '@')) != NULL;) {
        char name[TEXT_FILL_NAME_MAX];
        size_t n = name_length(at);
        if (n == 0) {
            at++;
            continue;
        }
        memcpy(name, at + 1, n);
        name[n] = '\0';
        fwrite(done, 1, (size_t)(at - done), to);
        put(to, name, data);
        bool begins_line = at == text || at[-1] == '\n';
        at += n + 2;
        at += begins_line && *at == '\n';
        done = at;
    }
    fputs(done, to);
}
