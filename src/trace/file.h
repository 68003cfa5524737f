/* Private to src/trace. A file: its mark, its version, then chunks. A chunk has a head of 16 bytes (its kind, its
 * length unpacked and packed, a CRC-32 over these and over what it holds packed: 32 bits each, low byte first) and
 * what it holds, packed by zlib. First comes the chunk HEAD, then a chunk for each segment, the oldest first. */
#ifndef KR_TRACE_FILE_H
#define KR_TRACE_FILE_H

#include "kniferail/trace.h"

#define FILE_MARK        "kniferail trace\n"
#define FILE_MARK_BYTES  16
#define FILE_VERSION     1
#define FILE_START_BYTES (FILE_MARK_BYTES + 4)
#define CHUNK_HEAD_BYTES 16
#define CHUNK_HEAD       1u
#define CHUNK_SEGMENT    2u

/* The head as it lies in its chunk: texts with their whole room, then the numbers. */
#define HEAD_BYTES (20 + 32 + KR_NAME_MAX + KR_TRACE_REASON_MAX + 8 + 8 + 4 + 2 + 2 + 2 + 2 * KR_RAILS_MAX)
void head_put(const struct kr_trace_head *head, unsigned char *to);
bool head_get(const unsigned char *from, struct kr_trace_head *head); /* false: the head makes no sense */

/* The most bytes that a file can have: with segments that cannot be packed at all. */
#define FILE_MOST_BYTES ((size_t)KR_TRACE_FROZEN_MAX * (KR_TRACE_SEGMENT_BYTES + 65536))

#endif
