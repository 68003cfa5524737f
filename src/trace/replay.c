/* Gives the recorded inputs to the station of this build, and compares all outputs. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "segment.h"
#include "trace.h"

struct replay {
    struct kr_station *station;
    struct kr_station_out out;
    struct kr_station_steps steps;
    struct kr_trace_result *result;
};

/* Reports only the first difference, because later ones follow from it. */
static void compare(struct replay *r, const struct kr_trace_frame *frame, enum kr_layout_of of, const void *recorded,
                    const void *replayed)
{
    static const char *const name[KR_LAYOUTS] = {
        [KR_LAYOUT_STATION] = "state", [KR_LAYOUT_OUT] = "output", [KR_LAYOUT_STEPS] = "steps"};
    struct kr_trace_result *result = r->result;
    struct kr_field field;
    if (result->parted || !kr_layout_differs(of, recorded, replayed, kr_layout_size(of), &field))
        return;
    result->parted = true;
    result->cycle = frame->cycle;
    result->utc_ms = frame->utc_ms;
    result->of = name[of];
    memcpy(result->field, field.name, sizeof result->field);
    kr_field_text(&field, recorded, result->recorded, sizeof result->recorded);
    kr_field_text(&field, replayed, result->replayed, sizeof result->replayed);
}

/* From a checkpoint on, the recorded state counts, whether the replay has reached it or not. The first checkpoint, and
 * one after a start or a new config, is compared with nothing. */
static void meet_checkpoint(struct replay *r, const struct kr_trace_frame *frame)
{
    if (frame->goes_on && r->result->cycles > 0) {
        struct kr_trace_frame before = *frame;
        before.cycle--; /* the checkpoint is the state after the cycle before */
        compare(r, &before, KR_LAYOUT_STATION, frame->checkpoint, r->station);
        r->result->checkpoints++;
    }
    memcpy(r->station, frame->checkpoint, kr_station_size());
}

static void replay_cycle(struct replay *r, const struct kr_trace_frame *frame)
{
    if (frame->checkpoint != NULL)
        meet_checkpoint(r, frame);
    kr_station_step(r->station, frame->in, &r->out);
    kr_station_steps(r->station, &r->steps);
    compare(r, frame, KR_LAYOUT_STEPS, frame->steps, &r->steps);
    compare(r, frame, KR_LAYOUT_OUT, frame->out, &r->out);
    r->result->cycles++;
}

static enum kr_trace_next replay_all(struct replay *r, struct kr_trace_cursor *cursor, struct kr_trace_witness witness)
{
    struct kr_trace_frame frame;
    enum kr_trace_next next;
    while ((next = kr_trace_next(cursor, &frame)) == KR_TRACE_FRAME) {
        replay_cycle(r, &frame);
        if (witness.see != NULL)
            witness.see(witness.arg, &frame, r->station);
    }
    return next;
}

bool kr_trace_replay(const struct kr_trace *trace, struct kr_trace_witness witness, struct kr_trace_result *result,
                     char *error, size_t error_size)
{
    *result = (struct kr_trace_result){.of = ""};
    struct kr_trace_cursor *cursor = kr_trace_begin(trace, error, error_size);
    if (cursor == NULL)
        return false;
    struct replay *r = calloc(1, sizeof *r);
    void *station = malloc(kr_station_size());
    enum kr_trace_next end = KR_TRACE_DAMAGED;
    bool has_memory = r != NULL && station != NULL;
    if (has_memory) {
        r->station = station;
        r->result = result;
        end = replay_all(r, cursor, witness);
    }
    if (end != KR_TRACE_OVER)
        snprintf(error, error_size, has_memory ? "a record is damaged" : "out of memory");
    free(station);
    free(r);
    kr_trace_end(cursor);
    return end == KR_TRACE_OVER;
}
