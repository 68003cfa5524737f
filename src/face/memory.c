/* The memory of a face: allocated at once when it opens, and freed when libuv has closed its last handle. */
#include <assert.h>
#include <stdlib.h>

#include "server.h"
#include "wire.h"

void face_free(struct kr_face *face)
{
    free(face->stations.registers);
    free(face->slot);
    free(face->memory);
    free(face);
}

bool face_allocate(struct kr_face *face)
{
    const struct kr_face_limits *limits = &face->config.limits;
    face->n_slots = limits->connections + FACE_ACCEPTS_A_TURN;
    face->buffer_bytes = limits->queued_answers * FACE_ADU_BYTES_MAX;
    if (face->buffer_bytes < 2 * FACE_ADU_BYTES_MAX)
        face->buffer_bytes = 2 * FACE_ADU_BYTES_MAX;
    face->stations.registers = calloc(face->config.n_stations, sizeof *face->stations.registers);
    face->slot = calloc(face->n_slots, sizeof *face->slot);
    face->memory = malloc((size_t)face->n_slots * 2 * face->buffer_bytes);
    return face->stations.registers != NULL && face->slot != NULL && face->memory != NULL;
}

void face_handle_gone(struct kr_face *face)
{
    assert(face->n_handles > 0);
    if (--face->n_handles > 0 || !face->closing)
        return;
    void (*closed_cb)(void *arg) = face->closed_cb;
    void *arg = face->closed_arg;
    face_free(face);
    if (closed_cb != NULL)
        closed_cb(arg);
}
