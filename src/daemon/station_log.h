/* The story of a station for the log: unit states, alarms in words, commands and requests with what became of them. */
#ifndef DAEMON_STORY_H
#define DAEMON_STORY_H

#include "keeper.h"

struct story {
    const char *name;
    struct kr_format format;
    enum kr_unit_state state;
    uint16_t n_alarms;
    struct kr_alarm alarm[KR_ALARMS_MAX];
    struct kr_snapshot command; /* the last that was told */
    bool command_untold;
    uint16_t verdict_session, verdict_number;
    enum kr_code verdict_code;
    uint16_t edit_session, edit_number;
};

void story_open(struct story *story, const char *name, const struct kr_station *station,
                struct kr_format format);

/* Called after every step. Alarms also go to the book. */
void story_step(struct story *story, const struct kr_station *station, struct kept_station *kept);

/* A command was handed to the station in this cycle. */
void story_command(struct story *story, const struct kr_snapshot *command);

/* Called when an image is published: tells what it says of the command and of the request. */
void story_image(struct story *story, const struct kr_image *image);

#endif
