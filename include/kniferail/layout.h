/* layout: the positions and names of the fields of a station's state and of its images, as the compiler has laid them
 * out. Recorders need them, because they store those structs as they lie in memory, and replays, because they compare
 * them. The build makes the table from the compiler's own debug information, so that no field can be missing. Pure. */
#ifndef KNIFERAIL_LAYOUT_H
#define KNIFERAIL_LAYOUT_H

#include <stdbool.h>
#include <stddef.h>

/* Returns sixteen hexadecimal digits that identify the whole table and the kind of machine. A build understands the
 * record of another build if both have the same digest: then every field has the same name, place, size and kind, and
 * every number of an enum has the same meaning. */
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

/* One number of a struct, at any depth: "rails.motion[1].drive.target_um". */
struct kr_field {
    char name[KR_FIELD_NAME_MAX];
    size_t offset;
    int number; /* for kr_field_text() */
};

/* Finds the first field, in the sequence of memory, in which a and b differ. Only the first `size` bytes are compared,
 * and the padding between fields is not. False: they agree. */
bool kr_layout_differs(enum kr_layout_of of, const void *a, const void *b, size_t size, struct kr_field *field);

/* Calls each() for every field, in the sequence of memory. Arrays of more than 256 bytes are left out. */
void kr_layout_each(enum kr_layout_of of, void (*each)(void *arg, const struct kr_field *field), void *arg);

/* Writes the value of the field within the struct as text. Returns as snprintf does. */
int kr_field_text(const struct kr_field *field, const void *of, char *text, size_t size);

#endif
