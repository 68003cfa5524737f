/* Private to src/trace: a file that was read. */
#ifndef KR_TRACE_TRACE_H
#define KR_TRACE_TRACE_H

#include "kniferail/trace.h"

struct kr_trace {
    struct kr_trace_head head;
    unsigned char *segment[KR_TRACE_FROZEN_MAX]; /* aligned as malloc's */
    size_t bytes[KR_TRACE_FROZEN_MAX];
};

#endif
