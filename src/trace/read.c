/* Reads a trace from a file. All of the trace is checked before anybody sees any of it. */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "bytes.h"
#include "file.h"
#include "trace.h"

struct source {
    const unsigned char *at;
    size_t left;
    char *error;
    size_t error_size;
};

__attribute__((format(printf, 2, 3))) static bool refuse(const struct source *source, const char *format, ...)
{
    va_list values;
    va_start(values, format);
    vsnprintf(source->error, source->error_size, format, values);
    va_end(values);
    return false;
}

/* ---- chunks ---------------------------------------------------------------------------------------------------- */

struct chunk {
    uint32_t kind, raw, packed, crc;
    const unsigned char *at; /* content as written */
};

static bool next_chunk(struct source *source, struct chunk *chunk)
{
    const unsigned char *at = source->at;
    if (source->left < CHUNK_HEAD_BYTES)
        return refuse(source, "it ends too early: it was cut off");
    chunk->at = at;
    chunk->kind = (uint32_t)get_number(&at, 4);
    chunk->raw = (uint32_t)get_number(&at, 4);
    chunk->packed = (uint32_t)get_number(&at, 4);
    chunk->crc = (uint32_t)get_number(&at, 4);
    if (chunk->packed > source->left - CHUNK_HEAD_BYTES)
        return refuse(source, "it ends too early: it was cut off");
    source->at += CHUNK_HEAD_BYTES + chunk->packed;
    source->left -= CHUNK_HEAD_BYTES + chunk->packed;
    return true;
}

/* Unpacks a chunk. `to' has room for chunk->raw bytes. The checksum comes first, so that only bytes which it covers are
 * unpacked. */
static bool unpack(const struct source *source, const struct chunk *chunk, unsigned char *to)
{
    const unsigned char *packed = chunk->at + CHUNK_HEAD_BYTES;
    uLongf n = chunk->raw;
    bool good = crc32(crc32(0, chunk->at, 12), packed, chunk->packed) == chunk->crc &&
                uncompress(to, &n, packed, chunk->packed) == Z_OK && n == chunk->raw;
    return good || refuse(source, "a checksum is wrong: it was damaged");
}

static bool take_start(struct source *source)
{
    const unsigned char *version = source->at + FILE_MARK_BYTES;
    if (source->left < FILE_START_BYTES || memcmp(source->at, FILE_MARK, FILE_MARK_BYTES) != 0)
        return refuse(source, "it is no trace");
    uint32_t number = (uint32_t)get_number(&version, 4);
    if (number != FILE_VERSION)
        return refuse(source, "it is of version %u; this program reads version %d", number, FILE_VERSION);
    source->at += FILE_START_BYTES;
    source->left -= FILE_START_BYTES;
    return true;
}

static bool take_head(struct source *source, struct kr_trace_head *head)
{
    struct chunk chunk;
    unsigned char raw[HEAD_BYTES];
    if (!take_start(source) || !next_chunk(source, &chunk))
        return false;
    if (chunk.kind != CHUNK_HEAD || chunk.raw != sizeof raw)
        return refuse(source, "its head is damaged");
    if (!unpack(source, &chunk, raw))
        return false;
    return head_get(raw, head) || refuse(source, "its head makes no sense");
}

static bool take_segment(struct source *source, struct kr_trace *trace, uint16_t i)
{
    struct chunk chunk;
    if (!next_chunk(source, &chunk))
        return false;
    if (chunk.kind != CHUNK_SEGMENT || chunk.raw == 0 || chunk.raw > KR_TRACE_SEGMENT_BYTES)
        return refuse(source, "segment %u is damaged", i + 1u);
    trace->segment[i] = malloc(chunk.raw);
    if (trace->segment[i] == NULL)
        return refuse(source, "out of memory");
    trace->bytes[i] = chunk.raw;
    return unpack(source, &chunk, trace->segment[i]);
}

static bool take_all(struct source *source, struct kr_trace *trace)
{
    if (!take_head(source, &trace->head))
        return false;
    for (uint16_t i = 0; i < trace->head.n_segments; i++)
        if (!take_segment(source, trace, i))
            return false;
    return source->left == 0 || refuse(source, "%zu bytes stand behind its end", source->left);
}

/* ---- as others call it ----------------------------------------------------------------------------------------- */

struct kr_trace *kr_trace_read(const unsigned char *bytes, size_t n, char *error, size_t error_size)
{
    struct source source = {bytes, n, error, error_size};
    struct kr_trace *trace = calloc(1, sizeof *trace);
    if (trace == NULL) {
        refuse(&source, "out of memory");
        return NULL;
    }
    if (take_all(&source, trace))
        return trace;
    kr_trace_close(trace);
    return NULL;
}

void kr_trace_close(struct kr_trace *trace)
{
    if (trace == NULL)
        return;
    for (int i = 0; i < KR_TRACE_FROZEN_MAX; i++)
        free(trace->segment[i]);
    free(trace);
}

const struct kr_trace_head *kr_trace_head(const struct kr_trace *trace)
{
    return &trace->head;
}

/* Reads at most `most` bytes of a file. NULL: *error says why. */
static unsigned char *load(const char *path, size_t most, size_t *n, char *error, size_t error_size)
{
    FILE *file = fopen(path, "rb");
    unsigned char *bytes = file != NULL ? malloc(most) : NULL;
    const char *why = file == NULL ? strerror(errno) : bytes == NULL ? "out of memory" : NULL;
    if (why == NULL) {
        *n = fread(bytes, 1, most, file);
        if (ferror(file))
            why = strerror(errno);
    }
    if (file != NULL)
        fclose(file);
    if (why == NULL)
        return bytes;
    snprintf(error, error_size, "%s: %s", path, why);
    free(bytes);
    return NULL;
}

struct kr_trace *kr_trace_open(const char *path, char *error, size_t error_size)
{
    size_t n;
    char why[KR_TRACE_TEXT_MAX];
    unsigned char *bytes = load(path, FILE_MOST_BYTES + 1, &n, error, error_size);
    if (bytes == NULL)
        return NULL;
    struct kr_trace *trace = kr_trace_read(bytes, n, why, sizeof why);
    if (trace == NULL)
        snprintf(error, error_size, "%s: %s", path, why);
    free(bytes);
    return trace;
}

bool kr_trace_look(const char *path, struct kr_trace_head *head, char *error, size_t error_size)
{
    size_t n;
    char why[KR_TRACE_TEXT_MAX];
    unsigned char *bytes = load(path, FILE_START_BYTES + CHUNK_HEAD_BYTES + HEAD_BYTES + 256, &n, error, error_size);
    if (bytes == NULL)
        return false;
    bool good = take_head(&(struct source){bytes, n, why, sizeof why}, head);
    if (!good)
        snprintf(error, error_size, "%s: %s", path, why);
    free(bytes);
    return good;
}
