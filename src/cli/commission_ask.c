/* Questions to the person at the terminal, their answers, and paragraphs. Standard input may be a file or a pipe. It is
 * read line by line with read(2), so that no line waits in a buffer while the program looks at the station. */
#include <errno.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "commission.h"
#include "kniferail/quantity.h"

#define COLUMNS 78

/* ---- paragraphs ------------------------------------------------------------------------------------------------ */

static void print_wrapped(const char *text)
{
    size_t column = 0;
    for (const char *at = text; *at != '\0';) {
        size_t n = strcspn(at, " \n");
        if (column > 0 && column + 1 + n > COLUMNS) {
            putchar('\n');
            column = 0;
        }
        if (column > 0 && n > 0)
            column += (size_t)(putchar(' ') != EOF);
        column += (size_t)printf("%.*s", (int)n, at);
        at += n;
        if (*at == '\n') {
            putchar('\n');
            column = 0;
        }
        at += *at != '\0';
    }
    putchar('\n');
    fflush(stdout);
}

static void say_values(const char *format, va_list values)
{
    char text[2048];
    vsnprintf(text, sizeof text, format, values);
    print_wrapped(text);
}

void commission_say(const char *format, ...)
{
    va_list values;
    va_start(values, format);
    say_values(format, values);
    va_end(values);
}

/* ---- the end by a signal --------------------------------------------------------------------------------------- */

static volatile sig_atomic_t interrupted;

static void interrupt(int number)
{
    (void)number;
    interrupted = 1;
}

void commission_catch_signals(void)
{
    /* A signal has to wake the program while it waits for a line. */
    struct sigaction action = {.sa_handler = interrupt};
    interrupted = 0;
    sigemptyset(&action.sa_mask);
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
}

bool commission_interrupted(struct commission *c)
{
    c->left = c->left || interrupted;
    return interrupted;
}

/* ---- lines ----------------------------------------------------------------------------------------------------- */

static bool take_line(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    char *end = memchr(c->typed, '\n', c->n_typed);
    if (end == NULL)
        return false;
    size_t n = (size_t)(end - c->typed);
    memcpy(line, c->typed, n);
    line[n] = '\0';
    if (n > 0 && line[n - 1] == '\r')
        line[n - 1] = '\0';
    c->n_typed -= n + 1;
    memmove(c->typed, end + 1, c->n_typed);
    c->left = c->left || strcmp(line, "leave") == 0;
    return true;
}

/* Says that the line was cut, once the end of it has been thrown away. */
static void end_cut_line(struct commission *c)
{
    c->typed[sizeof c->typed - 1] = '\n';
    c->cut = true;
    commission_say("The line is longer than %zu characters. It was cut there, and the rest of it does not count.",
                   sizeof c->typed - 1);
}

/* Reads more of the line. If the buffer is full without the end of a line, throws away what comes up to that end, byte
 * by byte: what follows answers another question. */
static void read_more(struct commission *c)
{
    char dropped;
    bool full = c->n_typed == sizeof c->typed;
    ssize_t n = read(STDIN_FILENO, full ? &dropped : c->typed + c->n_typed, full ? 1 : sizeof c->typed - c->n_typed);
    if (n > 0 && !full)
        c->n_typed += (size_t)n;
    else if (n > 0 && dropped == '\n')
        end_cut_line(c);
    else if (n > 0)
        return;
    else if (n == 0 || errno != EINTR || commission_interrupted(c))
        c->left = true;
}

static bool input_waits(int ms)
{
    struct pollfd input = {STDIN_FILENO, POLLIN, 0};
    return poll(&input, 1, ms) > 0;
}

bool commission_typed(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    while (!take_line(c, line)) {
        if (c->left || !input_waits(0))
            return false;
        read_more(c);
    }
    return !c->left;
}

static bool next_line(struct commission *c, char line[COMMISSION_LINE_MAX])
{
    while (!take_line(c, line)) {
        if (c->left || commission_interrupted(c))
            return false;
        if (input_waits(commission_alive_ms(c)))
            read_more(c);
        else
            commission_keep_alive(c);
    }
    return !c->left;
}

/* ---- questions ------------------------------------------------------------------------------------------------- */

/* At a terminal a line that was typed before the question answers another one, or none: an Enter too many would say
 * that nobody is in the zone. What comes from a file or a pipe was written as a whole. */
static void drop_typed_ahead(struct commission *c)
{
    if (!isatty(STDIN_FILENO))
        return;
    c->n_typed = 0;
    (void)tcflush(STDIN_FILENO, TCIFLUSH);
}

static bool ask_values(struct commission *c, char answer[COMMISSION_LINE_MAX], const char *hint, const char *format,
                       va_list values)
{
    drop_typed_ahead(c);
    c->cut = false;
    say_values(format, values);
    printf("%s> ", hint);
    if (!isatty(STDIN_FILENO))
        putchar('\n');
    fflush(stdout);
    return next_line(c, answer);
}

bool commission_ask_text(struct commission *c, char answer[COMMISSION_LINE_MAX], const char *format, ...)
{
    do {
        va_list values;
        va_start(values, format);
        bool there = ask_values(c, answer, "(text)", format, values);
        va_end(values);
        if (!there)
            return false;
    } while (answer[strspn(answer, " \t")] == '\0');
    return true;
}

bool commission_ask_yes(struct commission *c, bool *yes, const char *format, ...)
{
    char answer[COMMISSION_LINE_MAX];
    for (;;) {
        va_list values;
        va_start(values, format);
        bool there = ask_values(c, answer, "(yes or no)", format, values);
        va_end(values);
        if (!there)
            return false;
        *yes = strcmp(answer, "yes") == 0;
        if (*yes || strcmp(answer, "no") == 0)
            return true;
    }
}

bool commission_in_inches(const struct commission *c)
{
    return c->station->station.format.length_unit == KR_LENGTH_INCH;
}

const char *commission_length(const struct commission *c, int32_t um, char text[COMMISSION_LENGTH_MAX])
{
    return kr_said(c->station->station.format.length_unit, KR_SAID_LENGTH, 3, um / 1000.0, text);
}

const char *commission_what(const struct commission *c, const struct kr_step *step, char text[KR_STEP_WHAT_MAX])
{
    return kr_said_text(c->station->station.format.length_unit, step->what, text, KR_STEP_WHAT_MAX);
}

static void say_understood(const struct commission *c, const char *answer, int32_t um)
{
    char text[COMMISSION_LENGTH_MAX];
    bool names_unit = strpbrk(answer, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ\"'") != NULL;
    if (commission_in_inches(c) || names_unit)
        commission_say("  Taken as %s.", commission_length(c, um, text));
}

static bool read_um(const struct commission *c, const char *answer, int32_t *um)
{
    char why[160];
    int64_t nm = 0;
    const char *unit = commission_in_inches(c) ? "in" : "mm";
    enum kr_quantity_answer result = kr_length_read(answer, unit, &nm);
    if (result == KR_QUANTITY_OK) {
        *um = kr_um_from_nm(nm);
        say_understood(c, answer, *um);
        return true;
    }
    kr_quantity_why(result, answer, KR_DIM_LENGTH, why, sizeof why);
    commission_say("'%s'%s", answer, why);
    return false;
}

bool commission_ask_um(struct commission *c, int32_t *um, const char *format, ...)
{
    char answer[COMMISSION_LINE_MAX];
    const char *hint = commission_in_inches(c) ? "(length, in)" : "(length, mm)";
    for (;;) {
        va_list values;
        va_start(values, format);
        bool there = ask_values(c, answer, hint, format, values);
        va_end(values);
        if (!there)
            return false;
        if (read_um(c, answer, um))
            return true;
    }
}

static bool read_number(const char *answer, double least, double most, double *value)
{
    char *end;
    errno = 0;
    double number = strtod(answer, &end);
    end += strspn(end, " \t");
    if (errno != 0 || end == answer || *end != '\0' || !(number >= least && number <= most)) {
        commission_say("'%s'; allowed: %.10g to %.10g", answer, least, most);
        return false;
    }
    *value = number;
    return true;
}

bool commission_ask_number(struct commission *c, double *value, double least, double most, const char *format, ...)
{
    char answer[COMMISSION_LINE_MAX], hint[48] = "(number)";
    bool has_default = !isnan(*value);
    if (has_default)
        snprintf(hint, sizeof hint, "(number; Enter: %g)", *value);
    for (;;) {
        va_list values;
        va_start(values, format);
        bool there = ask_values(c, answer, hint, format, values);
        va_end(values);
        if (!there)
            return false;
        bool empty = answer[strspn(answer, " \t")] == '\0';
        if (empty ? has_default : read_number(answer, least, most, value))
            return true;
    }
}

bool commission_ask_enter(struct commission *c, const char *format, ...)
{
    char answer[COMMISSION_LINE_MAX];
    va_list values;
    va_start(values, format);
    bool there = ask_values(c, answer, "(Enter)", format, values);
    va_end(values);
    return there;
}
