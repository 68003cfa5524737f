/* Private to src/trace: the format of a file. It has a mark, a version, and then chunks. A chunk has a head of 16 bytes
 * and its content, packed by zlib. The head has four numbers of 32 bits, low byte first: the kind, the unpacked length,
 * the packed length, and a CRC-32 over these three and the packed content. The chunk HEAD comes first, and then one
 * chunk for each segment, the oldest first. */
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

/* The head in its chunk: the texts with their full room, then the numbers. */
#define HEAD_BYTES (20 + 32 + KR_NAME_MAX + KR_TRACE_REASON_MAX + 8 + 8 + 4 + 2 + 2 + 2 + 2 * KR_RAILS_MAX)
void head_put(const struct kr_trace_head *head, unsigned char *to);
bool head_get(const unsigned char *from, struct kr_trace_head *head); /* false: the head makes no sense */

/* The largest size of a file, whose segments cannot be packed at all. */
#define FILE_MOST_BYTES ((size_t)KR_TRACE_FROZEN_MAX * (KR_TRACE_SEGMENT_BYTES + 65536))

#endif
