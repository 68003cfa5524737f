/* Writes a trace to a file, in the thread pool. */
#include <errno.h>
#include <fcntl.h>
#include <libgen.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

#include "bytes.h"
#include "file.h"
#include "segment.h"

/* Checkpoints are mostly zeros, and records are mostly repetition: the fastest level packs them to a twentieth of their
 * size. */
#define PACK_LEVEL 1

#define PATH_ROOM 4096

struct sink {
    int fd;
    unsigned char *packed; /* memory for the largest chunk */
    size_t room;
    const char *why; /* why writing failed; NULL: it did not */
};

static void put_all(struct sink *sink, const unsigned char *bytes, size_t n)
{
    while (n > 0 && sink->why == NULL) {
        ssize_t done = write(sink->fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0) {
            sink->why = strerror(errno);
            return;
        }
        bytes += done;
        n -= (size_t)done;
    }
}

static void put_chunk(struct sink *sink, uint32_t kind, const unsigned char *raw, size_t n)
{
    unsigned char head[CHUNK_HEAD_BYTES], *to = head;
    uLongf packed = (uLongf)sink->room;
    if (compress2(sink->packed, &packed, raw, (uLong)n, PACK_LEVEL) != Z_OK) {
        sink->why = "it could not be packed";
        return;
    }
    put_number(&to, kind, 4);
    put_number(&to, n, 4);
    put_number(&to, packed, 4);
    uLong crc = crc32(crc32(0, head, 12), sink->packed, (uInt)packed);
    put_number(&to, crc, 4);
    put_all(sink, head, sizeof head);
    put_all(sink, sink->packed, packed);
}

static void put_file(struct sink *sink, const struct kr_trace_head *head, const struct kr_trace_frozen *frozen)
{
    unsigned char start[FILE_START_BYTES], *to = start + FILE_MARK_BYTES, of_head[HEAD_BYTES];
    static const unsigned char mark[FILE_MARK_BYTES] = FILE_MARK;
    memcpy(start, mark, sizeof mark);
    put_number(&to, FILE_VERSION, 4);
    put_all(sink, start, sizeof start);
    head_put(head, of_head);
    put_chunk(sink, CHUNK_HEAD, of_head, sizeof of_head);
    for (uint16_t i = 0; i < frozen->n && sink->why == NULL; i++)
        put_chunk(sink, CHUNK_SEGMENT, frozen->segment[i], frozen->bytes[i]);
    if (sink->why == NULL && fsync(sink->fd) != 0)
        sink->why = strerror(errno);
}

static void complete_head(struct kr_trace_head *head, const struct kr_trace_frozen *frozen)
{
    struct segment_head segment;
    snprintf(head->layout, sizeof head->layout, "%s", kr_layout_digest());
    snprintf(head->program, sizeof head->program, "%s, %s", KR_VERSION, __VERSION__);
    head->cycles = 0;
    head->n_segments = frozen->n;
    for (uint16_t i = 0; i < frozen->n; i++) {
        memcpy(&segment, frozen->segment[i], sizeof segment);
        head->cycles += segment.records;
        if (i == 0)
            head->first_utc_ms = segment.utc_ms;
        head->last_utc_ms = segment.last_utc_ms;
    }
}

/* Always makes a new file: nothing is written through a link, and an incomplete older file is removed. */
static const char *write_as(const char *path, const struct kr_trace_head *head, const struct kr_trace_frozen *frozen)
{
    struct sink sink = {.room = compressBound(KR_TRACE_SEGMENT_BYTES)};
    unsigned char *packed = malloc(sink.room);
    if (packed == NULL)
        return "out of memory";
    sink.packed = packed;
    if (unlink(path) == 0 || errno == ENOENT)
        sink.fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    else
        sink.fd = -1;
    if (sink.fd < 0) {
        const char *why = strerror(errno);
        free(packed);
        return why;
    }
    put_file(&sink, head, frozen);
    free(packed);
    if (close(sink.fd) != 0 && sink.why == NULL)
        sink.why = strerror(errno);
    return sink.why;
}

/* A file's name is part of its folder, and is on the disk once the folder is. EINVAL: this file system can't sync
 * folders (fsync(2)). */
static const char *sync_name(const char *path)
{
    char folder[PATH_ROOM];
    snprintf(folder, sizeof folder, "%s", path);
    int fd = open(dirname(folder), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    const char *why = fd < 0 || (fsync(fd) != 0 && errno != EINVAL) ? strerror(errno) : NULL;
    if (fd >= 0)
        close(fd);
    return why;
}

bool kr_trace_make_folder(const char *path, char *error, size_t error_size)
{
    const char *why = mkdir(path, 0750) == 0 ? sync_name(path) : errno != EEXIST ? strerror(errno) : NULL;
    if (why != NULL)
        snprintf(error, error_size, "%s: %s", path, why);
    return why == NULL;
}

/* Writes under another name first, so that a file with the final name is always whole. */
bool kr_trace_write(const char *path, struct kr_trace_head *head, const struct kr_trace_frozen *frozen, char *error,
                    size_t error_size)
{
    char part[PATH_ROOM];
    if ((size_t)snprintf(part, sizeof part, "%s.part", path) >= sizeof part) {
        snprintf(error, error_size, "the name is too long");
        return false;
    }
    complete_head(head, frozen);
    const char *why = write_as(part, head, frozen);
    if (why == NULL && rename(part, path) != 0)
        why = strerror(errno);
    if (why != NULL) {
        snprintf(error, error_size, "%s: %s", path, why);
        unlink(part);
        return false;
    }
    why = sync_name(path);
    if (why != NULL) {
        snprintf(error, error_size, "%s: its folder can't be synced: %s", path, why);
        unlink(path);
    }
    return why == NULL;
}
