#include "screen.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* ECMA-48: CUP to the first place, EL from the cursor to the end of the line, ED to the end of the screen. */
#define HOME        "\033[H"
#define ERASE_LINE  "\033[K"
#define ERASE_BELOW "\033[J"
/* SGR: bold and reversed, and plain again. */
#define STAND_OUT "\033[1;7m"
#define PLAIN     "\033[m"

static volatile sig_atomic_t ended;

static void end(int signal_number)
{
    (void)signal_number;
    ended = 1;
}

void kr_screen_begin(void)
{
    struct sigaction action = {.sa_handler = end};
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
}

bool kr_screen_wait(long ms)
{
    struct timespec left = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    while (!ended && nanosleep(&left, &left) != 0)
        continue;
    return !ended;
}

/* Returns how many bytes fill the columns; a character of UTF-8 takes one column. */
static size_t fitting(const char *line, size_t length, int columns)
{
    size_t i = 0;
    for (int n = 0; i < length; i++) {
        n += ((unsigned char)line[i] & 0xC0u) != 0x80u;
        if (n > columns)
            break;
    }
    return i;
}

/* Lines that must not be overlooked: a station that does not answer, and the first line of an alarm. */
static bool is_urgent(const char *line)
{
    return strncmp(line, "THE GATEWAY", 11) == 0 || strncmp(line, "! ", 2) == 0;
}

void kr_screen_show(const struct kr_terminal *terminal, const char *frame)
{
    if (!terminal->is_terminal) {
        printf("%s\n", frame);
        return;
    }
    fputs(HOME, stdout);
    for (int row = 1; *frame && row < terminal->rows; row++) {
        size_t length = strcspn(frame, "\n");
        bool stands_out = terminal->emphasis && is_urgent(frame);
        fputs(stands_out ? STAND_OUT : "", stdout);
        fwrite(frame, 1, fitting(frame, length, terminal->columns), stdout);
        fputs(stands_out ? PLAIN : "", stdout);
        fputs(ERASE_LINE "\n", stdout);
        frame += length + (frame[length] == '\n');
    }
    fputs(ERASE_BELOW, stdout);
}

void kr_screen_end(const struct kr_terminal *terminal)
{
    if (terminal->is_terminal)
        putchar('\n');
    fflush(stdout);
}
