#include "traced.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void traced_open(struct traced *traced, const char *keep)
{
    const char *folder = getenv("TMPDIR");
    memset(traced, 0, sizeof *traced);
    traced->memory = calloc(1, KR_TRACE_BYTES);
    if (traced->memory == NULL)
        abort();
    traced->kept = keep != NULL;
    if (keep != NULL)
        snprintf(traced->path, sizeof traced->path, "%s", keep);
    else
        snprintf(traced->path, sizeof traced->path, "%s/story-%ld.trace", folder ? folder : "/tmp", (long)getpid());
}

void traced_close(struct traced *traced)
{
    if (!traced->kept)
        unlink(traced->path);
    free(traced->memory);
}

void traced_begin(struct traced *traced, struct rig *rig)
{
    kr_trace_ring_init(&traced->ring, traced->memory);
    traced->written = 0;
    traced->what[0] = 0;
    rig->trace = &traced->ring;
}

static void replay(struct traced *traced)
{
    struct kr_trace_result result;
    char error[256];
    struct kr_trace *trace = kr_trace_open(traced->path, error, sizeof error);
    if (trace == NULL || !kr_trace_replay(trace, (struct kr_trace_witness){NULL, NULL}, &result, error, sizeof error)) {
        snprintf(traced->what, sizeof traced->what, "its trace can't be replayed: %s", error);
    } else if (result.parted) {
        snprintf(traced->what, sizeof traced->what, "its replay parts in cycle %llu: %s %s was %s, is %s",
                 (unsigned long long)result.cycle, result.of, result.field, result.recorded, result.replayed);
    } else {
        traced->cycles += result.cycles;
        traced->checkpoints += result.checkpoints;
        traced->traces++;
    }
    kr_trace_close(trace);
}

static void write_and_replay(struct traced *traced, const struct rig *rig)
{
    struct kr_trace_frozen frozen;
    struct kr_trace_head head = {.n_rails = rig->config.geometry.n_rails};
    char error[256];
    if (!kr_trace_ring_freeze(&traced->ring, rig->station, rig->time_us / 1000, &frozen)) {
        snprintf(traced->what, sizeof traced->what, "its ring can't be frozen");
        return;
    }
    traced->written = traced->ring.segments - 1;
    if (kr_trace_write(traced->path, &head, &frozen, error, sizeof error))
        replay(traced);
    else
        snprintf(traced->what, sizeof traced->what, "its trace can't be written: %s", error);
    kr_trace_ring_thaw(&traced->ring);
}

void traced_step(struct traced *traced, const struct rig *rig)
{
    if (traced->what[0] == 0 && traced->ring.segments - traced->written >= KR_TRACE_FROZEN_MAX)
        write_and_replay(traced, rig);
}

bool traced_end(struct traced *traced, const struct rig *rig)
{
    if (traced->what[0] == 0)
        write_and_replay(traced, rig);
    if (traced->ring.not_recorded > 0)
        snprintf(traced->what, sizeof traced->what, "%u of its cycles were not recorded",
                 (unsigned)traced->ring.not_recorded);
    return traced->what[0] == 0;
}
