#include "terminal.h"

#include <langinfo.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "cli.h"

#define COLUMNS 80
#define ROWS    24

/* no-color.org: if NO_COLOR is set and not empty, no colour or emphasis is to be added. */
static bool wants_no_color(void)
{
    const char *no_color = getenv("NO_COLOR");
    return no_color != NULL && no_color[0] != '\0';
}

struct kr_terminal kr_terminal_look(void)
{
    struct kr_terminal t = {.columns = COLUMNS, .rows = ROWS};
    const char *kind = getenv("TERM");
    struct winsize size;
    if (!isatty(STDOUT_FILENO))
        return t;
    t.is_terminal = kind != NULL && kind[0] != '\0' && strcmp(kind, "dumb") != 0;
    t.emphasis = t.is_terminal && !wants_no_color();
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 && size.ws_row > 0) {
        t.columns = size.ws_col;
        t.rows = size.ws_row;
    }
    if (setlocale(LC_CTYPE, "") != NULL)
        t.box = t.is_terminal && strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
    return t;
}

bool kr_terminal_style(const char *command, const char *characters, struct kr_scene_style *style)
{
    struct kr_terminal terminal = kr_terminal_look();
    *style = (struct kr_scene_style){.columns = terminal.columns, .box = terminal.box};
    if (style->columns > KR_SCENE_COLUMNS_MAX)
        style->columns = KR_SCENE_COLUMNS_MAX;
    if (characters == NULL)
        return true;
    style->box = strcmp(characters, "box") == 0;
    if (style->box || strcmp(characters, "ascii") == 0)
        return true;
    kr_usage(command, "--characters: '%s'; allowed: ascii, box", characters);
    return false;
}

static void print_line(void *arg, const char *text)
{
    (void)arg;
    puts(text);
}

struct kr_scene_lines kr_terminal_lines(void)
{
    return (struct kr_scene_lines){.line = print_line};
}
