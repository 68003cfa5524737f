#include "source.h"

#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

/* The most bytes of a config with all its includes: a hundred times the largest one known. */
#define MOST_BYTES    (1u << 20)
#define MOST_INCLUDES 10 /* depth of nesting; this is the library's own limit */

/* The state of reading one file. */
struct scan {
    struct kr_source *source;
    struct kr_source_trouble *trouble;
    const char *file, *folder;
    const char *p; /* the text ends with a 0 */
    int line, depth;
    bool line_start;  /* there are only blanks before p on this line */
    const char *name; /* the last name before p, and its length; at first there is none */
    int name_length;
};

static bool scan_file(struct kr_source *source, const char *path, const char *folder, int depth,
                      struct kr_source_trouble *trouble);

static bool fail(struct kr_source_trouble *trouble, const char *file, int line, const char *text)
{
    snprintf(trouble->file, sizeof trouble->file, "%.1023s", file);
    trouble->line = line;
    snprintf(trouble->text, sizeof trouble->text, "%.255s", text);
    return false;
}

static bool keep_number(struct kr_source *source, const char *start, size_t length)
{
    if (source->n_numbers == source->room) {
        size_t room = source->room ? 2 * source->room : 256;
        struct kr_source_number *more = realloc(source->number, room * sizeof *more);
        if (!more)
            return false;
        source->number = more;
        source->room = room;
    }
    struct kr_source_number *n = &source->number[source->n_numbers++];
    snprintf(n->text, sizeof n->text, "%.*s", (int)(length < sizeof n->text ? length : sizeof n->text), start);
    return true;
}

/* ---- what the library's scanner calls a number, a string, a comment, a name ---------------------------------- */

static size_t number_length(const char *start)
{
    const char *p = start;
    if (*p == '+' || *p == '-')
        p++;
    if (p == start && p[0] == '0' && (p[1] == 'x' || p[1] == 'X') && isxdigit((unsigned char)p[2])) {
        for (p += 2; isxdigit((unsigned char)*p);)
            p++;
        return (size_t)(p + strspn(p, "L") - start);
    }
    p += strspn(p, "0123456789");
    if (*p == '.')
        p += 1 + strspn(p + 1, "0123456789");
    const char *e = p + 1 + (p[0] && (p[1] == '+' || p[1] == '-'));
    if ((*p == 'e' || *p == 'E') && isdigit((unsigned char)*e))
        p = e + strspn(e, "0123456789");
    return (size_t)(p + strspn(p, "L") - start);
}

static void skip_counting_lines(struct scan *s, const char *to)
{
    for (; s->p < to; s->p++)
        s->line += *s->p == '\n';
}

static void skip_string(struct scan *s)
{
    const char *p = s->p + 1;
    while (*p && *p != '"')
        p += p[0] == '\\' && p[1] ? 2 : 1;
    skip_counting_lines(s, *p ? p + 1 : p);
}

static void skip_block_comment(struct scan *s)
{
    const char *end = strstr(s->p + 2, "*/");
    skip_counting_lines(s, end ? end + 2 : s->p + strlen(s->p));
}

/* Takes @include "file", which must be alone on its line. The library would also accept a path over several lines, but
 * nobody writes one. */
static bool take_include(struct scan *s)
{
    char name[512], path[1024];
    size_t n = 0;
    const char *p = s->p + strlen("@include");
    p += strspn(p, " \t");
    for (p++; *p && *p != '"' && *p != '\n' && n + 1 < sizeof name; p++) {
        if (p[0] == '\\' && p[1] && p[1] != '\n')
            p++;
        name[n++] = *p;
    }
    name[n] = '\0';
    if (*p != '"')
        return fail(s->trouble, s->file, s->line, "the path after @include is not closed on its line, or too long");
    if ((size_t)snprintf(path, sizeof path, "%s/%s", s->folder, name) >= sizeof path)
        return fail(s->trouble, s->file, s->line, "the path of the included file is too long");
    if (s->depth >= MOST_INCLUDES)
        return fail(s->trouble, s->file, s->line, "files are included more than 10 deep");
    s->p = p + 1;
    struct kr_source_trouble inner;
    if (scan_file(s->source, path, s->folder, s->depth + 1, &inner))
        return true;
    if (inner.line > 0) {
        *s->trouble = inner;
        return false;
    }
    char text[sizeof inner.text];
    snprintf(text, sizeof text, "included file %.150s: %.80s", path, inner.text);
    return fail(s->trouble, s->file, s->line, text);
}

static bool is_include(const struct scan *s)
{
    if (!s->line_start || strncmp(s->p, "@include", 8) != 0)
        return false;
    size_t blanks = strspn(s->p + 8, " \t");
    return blanks > 0 && s->p[8 + blanks] == '"';
}

static bool is_number(const char *p)
{
    if (*p == '+' || *p == '-')
        p++;
    return isdigit((unsigned char)*p) || *p == '.';
}

/* Versions of the library differ about an integer that does not fit 64 bits: one cuts it, the other reports a syntax
 * error. */
static bool too_large(const char *p, size_t length)
{
    if (strspn(p, "+-0123456789") < length)
        return false;
    errno = 0;
    (void)strtoll(p, NULL, 10);
    return errno == ERANGE;
}

static bool take_number(struct scan *s)
{
    const char *p = s->p;
    size_t length = number_length(p);
    char text[256];
    s->p += length;
    if (too_large(p, length)) {
        snprintf(text, sizeof text, "%.*s: %.*s has too many digits", s->name_length < 80 ? s->name_length : 80,
                 s->name, length < 80 ? (int)length : 80, p);
        return fail(s->trouble, s->file, s->line, text);
    }
    return keep_number(s->source, p, length) || fail(s->trouble, s->file, s->line, "out of memory");
}

static void take_name(struct scan *s)
{
    s->name = s->p++;
    while (isalnum((unsigned char)*s->p) || (*s->p && strchr("-_*", *s->p)))
        s->p++;
    s->name_length = (int)(s->p - s->name);
}

/* Takes one token, or one character that is not part of a token. */
static bool scan_token(struct scan *s)
{
    const char *p = s->p;
    bool blank = *p == ' ' || *p == '\t' || *p == '\n';
    if (*p == '#' || (p[0] == '/' && p[1] == '/')) {
        s->p += strcspn(p, "\n");
    } else if (p[0] == '/' && p[1] == '*') {
        skip_block_comment(s);
    } else if (*p == '"') {
        skip_string(s);
    } else if (is_include(s)) {
        return take_include(s);
    } else if (is_number(p)) {
        s->line_start = false;
        return take_number(s);
    } else if (isalpha((unsigned char)*p) || *p == '*') {
        take_name(s);
    } else {
        skip_counting_lines(s, p + 1);
    }
    s->line_start = *p == '\n' || (blank && s->line_start);
    return true;
}

/* ---- files --------------------------------------------------------------------------------------------------- */

/* The library ends the process if it has to read a folder, and waits for ever at a pipe without a writer. So only
 * regular files are accepted. */
static FILE *open_regular(const char *path, struct kr_source_trouble *trouble)
{
    int fd = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    struct stat st;
    FILE *file = NULL;
    bool known = fd >= 0 && fstat(fd, &st) == 0;
    if (known && !S_ISREG(st.st_mode))
        fail(trouble, path, 0, "it is no regular file");
    else if (!known || !(file = fdopen(fd, "rb")))
        fail(trouble, path, 0, strerror(errno));
    if (!file && fd >= 0)
        (void)close(fd);
    return file;
}

/* Reads the whole file and adds a final 0. The caller frees it. */
static char *read_whole(const char *path, size_t most, struct kr_source_trouble *trouble)
{
    FILE *file = open_regular(path, trouble);
    if (!file)
        return NULL;
    char *text = malloc(most + 2), *result = NULL;
    size_t n = text ? fread(text, 1, most + 1, file) : 0;
    if (!text) {
        fail(trouble, path, 0, "out of memory");
    } else if (ferror(file)) {
        fail(trouble, path, 0, "it can't be read");
    } else if (n > most) {
        fail(trouble, path, 0, "it is larger than 1 MiB, its includes taken together");
    } else if (memchr(text, 0, n)) {
        fail(trouble, path, 0, "it holds a byte 0, so it is no text");
    } else {
        text[n] = '\0';
        result = text;
    }
    fclose(file);
    if (!result)
        free(text);
    return result;
}

static bool scan_file(struct kr_source *source, const char *path, const char *folder, int depth,
                      struct kr_source_trouble *trouble)
{
    char *text = read_whole(path, MOST_BYTES - source->bytes, trouble);
    if (!text)
        return false;
    if (strncmp(text, "\xEF\xBB\xBF", 3) ==
        0) { /* the library would report a syntax error, but the cause, a byte order mark, is invisible */
        free(text);
        return fail(trouble, path, 1, "it begins with a byte order mark (EF BB BF hex); save it as UTF-8 without one");
    }
    source->bytes += strlen(text);
    source->digest = (uint32_t)crc32(source->digest, (const unsigned char *)text, (unsigned)strlen(text));
    struct scan s = {source, trouble, path, folder, text, 1, depth, true, "", 0};
    bool fine = true;
    while (fine && *s.p)
        fine = scan_token(&s);
    free(text);
    return fine;
}

bool kr_source_read(struct kr_source *source, const char *path, const char *folder, struct kr_source_trouble *trouble)
{
    *source = (struct kr_source){0};
    return scan_file(source, path, folder, 0, trouble);
}

void kr_source_free(struct kr_source *source)
{
    free(source->number);
    *source = (struct kr_source){0};
}

/* ---- numbers and settings -------------------------------------------------------------------------------------- */

static bool attach(const struct kr_source *source, config_setting_t *setting, size_t *next)
{
    if (config_setting_is_number(setting)) {
        if (*next == source->n_numbers)
            return false;
        config_setting_set_hook(setting, &source->number[(*next)++]);
        return true;
    }
    int n = config_setting_is_aggregate(setting) ? config_setting_length(setting) : 0;
    for (int i = 0; i < n; i++)
        if (!attach(source, config_setting_get_elem(setting, (unsigned)i), next))
            return false;
    return true;
}

bool kr_source_attach(const struct kr_source *source, config_setting_t *root)
{
    size_t next = 0;
    return attach(source, root, &next) && next == source->n_numbers;
}

const char *kr_source_digits(const config_setting_t *setting)
{
    const struct kr_source_number *number = config_setting_get_hook(setting);
    return number->text;
}
