/* The recorder notes which holder was moved when during a changeover, and afterwards writes this in a form that
 * programs can read. */
#ifndef DAEMON_RECORD_H
#define DAEMON_RECORD_H

#include "kniferail/book.h"

struct recorder {
    int64_t now_us, start_us;       /* machine time */
    enum kr_unit_state state;       /* at the last step */
    uint32_t serial;                /* of kr_durable, at the last step */
    uint16_t number;                /* of the last record */
    uint16_t docking[KR_RAILS_MAX]; /* the holder in motion, as in kr_durable, at the last step */
    int32_t from_um[KR_RAILS_MAX], from_ms[KR_RAILS_MAX];
    enum kr_phase phase;                  /* of the job, at the last step */
    bool correcting;                      /* a scan of this job has found a knife outside of its tolerance */
    int64_t spent_us[KR_N_SPENT];         /* since the start of the changeover */
    char asked_by[KR_ORIGIN_MAX];         /* the address from which the last command came */
    struct kr_book_changeover changeover; /* the changeover under way */
};

void recorder_open(struct recorder *recorder, const struct kr_station *station);

/* Notes which address gave a command. Call it before the step that takes the command. */
void recorder_command(struct recorder *recorder, const char *origin);

/* Call it after every step of the station. Returns the changeover that ended in this step, or NULL; it is valid until
 * the next step. image: the station's image, which is updated if a changeover has ended. */
const struct kr_book_changeover *recorder_step(struct recorder *recorder, const struct kr_station *station,
                                               const struct kr_geometry *geometry, struct kr_image *image,
                                               int32_t dt_us);

/* Writes a changeover in lines of JSON, each shorter than 16 kB. For each rail there is one record_part with its
 * holders, and as many as are needed with its moves; each part has one row for each holder or move, below the names of
 * the columns. The record itself comes last and says how many parts came before it. unit: the unit of lengths in
 * sentences; numbers are always micrometres and milliseconds. False: there was not enough memory, and some of it is
 * missing. Called in a thread of the pool. */
#define RECORD_LINE_MAX 16000
bool record_tell(const char *station, uint16_t session, enum kr_length_unit unit,
                 const struct kr_book_changeover *changeover, void (*each)(const char *line));

#endif
