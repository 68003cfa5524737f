/* control: which client may command a station. Pure: the caller zeroes registers and drops commands as a change
 * demands. */
#ifndef KR_FACE_CONTROL_H
#define KR_FACE_CONTROL_H

#include "kniferail/map.h"

#include "access.h"

#define FACE_HOLDER_WORDS 20 /* CONTROL_HOLDER in the map */

struct face_control {
    /* PASSING: nobody has control until nothing moves, and then the holder named here. */
    enum kr_control state;
    uint8_t address[16]; /* of the present or the next holder, unless that is a group */
    int group;
    uint16_t generation;
    uint16_t holder_text[FACE_HOLDER_WORDS]; /* as the map shows it */
};

/* Is control the client's, or about to be? Only the state tells the two apart. */
bool face_control_is_of(const struct face_control *control, const struct face_client *client);

/* May the client write commands? Returns 0, or the exception that refuses it. right is what the client may do at this
 * station, here and below. */
uint8_t face_control_may_command(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, bool by_first_write);

/* May the client stop motion by HALT, whether it is in control or not? Returns 0, or the exception that refuses it. */
uint8_t face_control_may_halt(enum kr_right right);

/* May the client make this access request? Returns 0, or the exception that refuses it. */
uint8_t face_control_may_request(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, uint16_t request);

/* These make the changes of control. Each steps the generation. groups: those of the configuration, for the name of the
 * holder. */
void face_control_give(struct face_control *control, const struct face_client *client, enum kr_control state,
                       const struct kr_face_group *groups);
void face_control_pass(struct face_control *control);
void face_control_free(struct face_control *control);

#endif
