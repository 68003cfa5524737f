/* places: which connection gives way to a newcomer. Changes nothing.
 *
 * An address has so many places of its own; of all places some are kept for those who may control or maintain, so
 * that readers never fill them. Where there is none left, the one that has been silent longest gives way (MSG
 * 4.2.1.1): for a reader another reader that is silent, for who may control or maintain any reader, whether it is
 * busy or not, then whoever is silent and not in control. */
#ifndef KR_FACE_PLACES_H
#define KR_FACE_PLACES_H

#include "server.h"

enum face_place {
    FACE_PLACE_FREE,
    FACE_PLACE_GIVEN, /* *leaver gives way */
    FACE_PLACE_NONE,
};
enum face_place face_place_for(struct kr_face *face, const struct face_client *newcomer,
                               struct face_connection **leaver);

#endif
