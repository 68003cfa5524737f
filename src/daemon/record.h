/* Changeovers: what was moved when, noted as it happens, and told at the end in a form that a program can read. */
#ifndef DAEMON_RECORD_H
#define DAEMON_RECORD_H

#include "kniferail/book.h"

struct recorder {
    int64_t now_us, start_us; /* machine time */
    enum kr_unit_state state; /* at the last step */
    uint32_t serial;          /* of kr_durable, at the last step */
    uint16_t number;          /* of the last record */
    uint16_t docking[KR_RAILS_MAX];
    int32_t from_um[KR_RAILS_MAX], from_ms[KR_RAILS_MAX];
    enum kr_phase phase;                  /* of the job, at the last step */
    bool correcting;                      /* a scan of this job has found a knife off its place */
    int64_t spent_us[KR_N_SPENT];         /* since the start */
    char asked_by[KR_ORIGIN_MAX];         /* the address whose command came last */
    struct kr_book_changeover changeover; /* the one under way */
};

void recorder_open(struct recorder *recorder, const struct kr_station *station);

/* Tells which address gave a command, before the step that takes it. */
void recorder_command(struct recorder *recorder, const char *origin);

/* Called after every step of the station. Returns the changeover that ended in it, or NULL; valid until the next
 * step. image: the station's; it is brought up to date where a changeover ended. */
const struct kr_book_changeover *recorder_step(struct recorder *recorder, const struct kr_station *station,
                                               const struct kr_geometry *geometry, struct kr_image *image,
                                               int32_t dt_us);

/* Tells a changeover in lines of JSON, each shorter than 16 kB: for each rail one record_part with its holders and as
 * many as it takes with its moves, a row each below the names of their columns; then the record itself, which says
 * how many parts came before it. unit: of lengths in the sentences; numbers are micrometres and milliseconds always.
 * False: for some of it there was no memory. For a thread of the pool. */
#define RECORD_LINE_MAX 16000
bool record_tell(const char *station, uint16_t session, enum kr_length_unit unit,
                 const struct kr_book_changeover *changeover, void (*each)(const char *line));

#endif
