/* control: which client may command a station. Pure; the caller zeroes registers and drops commands as a
 * change asks. */
#ifndef KR_FACE_CONTROL_H
#define KR_FACE_CONTROL_H

#include "kniferail/map.h"

#include "access.h"

#define FACE_HOLDER_WORDS 20 /* CONTROL_HOLDER in the map */

struct face_control {
    enum kr_control state; /* PASSING: nobody has it until nothing moves, then the holder named here */
    uint8_t address[16];   /* of the holder, or of who will be, unless it is a group */
    int group;
    uint16_t generation;
    uint16_t holder_text[FACE_HOLDER_WORDS]; /* as the map shows it */
};

/* True if control is the client's, or is about to be (then only the state tells the difference). */
bool face_control_is_of(const struct face_control *control, const struct face_client *client);

/* May the client write commands? The exception that says no, or 0. right: what it may at this station, here and
 * below. */
uint8_t face_control_may_command(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, bool by_first_write);

/* May the client stop motion by HALT, in control or not? The exception that says no, or 0. */
uint8_t face_control_may_halt(enum kr_right right);

/* May it make this access request? The exception that says no, or 0. */
uint8_t face_control_may_request(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, uint16_t request);

/* The changes. Each steps the generation. groups: the configuration's, for the holder's name. */
void face_control_give(struct face_control *control, const struct face_client *client, enum kr_control state,
                       const struct kr_face_group *groups);
void face_control_pass(struct face_control *control);
void face_control_free(struct face_control *control);

#endif
