/* Private to src/trace: writes the lines of a story. */
#ifndef KR_TRACE_TELLING_H
#define KR_TRACE_TELLING_H

#include "kniferail/trace.h"

#define TELLING_WORD_MAX 48

void tell_line(const struct kr_story *story, uint16_t rail, bool important, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Writes a number's name in a list of the map, in small letters: "guided release". Returns text. */
const char *word_of(const char *set, int number, char text[TELLING_WORD_MAX]);

/* In story_people.c: the requests, and their results. */
void tell_people(struct kr_story *story, const struct kr_station_in *in, const struct kr_station_steps *steps);

/* In story_rail.c. rail is an index from 0. */
void tell_drive(struct kr_story *story, uint16_t rail, const struct kr_axis_in *axis);
void tell_rail(const struct kr_story *story, uint16_t rail, const struct kr_station_steps *steps);
void tell_unfinished(const struct kr_story *story, uint16_t rail);

#endif
