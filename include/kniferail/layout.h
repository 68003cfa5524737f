/* layout: where the compiler has put the fields of a station's state and of its images, and what they are called. For
 * recorders, which keep those structs as they lie in memory, and for replays, which compare them. The table is made by
 * the build from the compiler's own debug information, so that no field can be missing in it. Pure. */
#ifndef KNIFERAIL_LAYOUT_H
#define KNIFERAIL_LAYOUT_H

#include <stdbool.h>
#include <stddef.h>

/* Sixteen hexadecimal digits over all of the table and the kind of machine. What one build recorded, another one
 * understands if both have the same digest: every field has the same name, place, size and kind, and every number of an
 * enum the same meaning. */
const char *kr_layout_digest(void);

enum kr_layout_of {
    KR_LAYOUT_STATION,  /* struct kr_station */
    KR_LAYOUT_IN,       /* struct kr_station_in */
    KR_LAYOUT_OUT,      /* struct kr_station_out */
    KR_LAYOUT_STEPS,    /* struct kr_station_steps */
    KR_LAYOUT_AXIS_IN,  /* struct kr_axis_in */
    KR_LAYOUT_AXIS_OUT, /* struct kr_axis_out */
    KR_LAYOUTS
};
size_t kr_layout_size(enum kr_layout_of of); /* bytes */

#define KR_FIELD_NAME_MAX 128

/* One number of a struct, however deep: "rails.motion[1].drive.target_um". */
struct kr_field {
    char name[KR_FIELD_NAME_MAX];
    size_t offset;
    int number; /* for kr_field_text() */
};

/* The first field in which a and b differ, in the order of memory, and only the first `size` bytes being looked at;
 * what lies between fields is not compared. False: they agree. */
bool kr_layout_differs(enum kr_layout_of of, const void *a, const void *b, size_t size,
                       struct kr_field *field);

/* Calls each() with every field, in the order of memory. An array of more than 256 bytes is left out. */
void kr_layout_each(enum kr_layout_of of, void (*each)(void *arg, const struct kr_field *field), void *arg);

/* Writes the field's value within the struct as text; returns as snprintf. */
int kr_field_text(const struct kr_field *field, const void *of, char *text, size_t size);

#endif
