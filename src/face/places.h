/* places: which connection gives way to a newcomer. It changes nothing.
 *
 * Each address has so many places of its own. Of all places, some are kept for clients that may control or maintain, so
 * that readers never fill them. Where no place is left, the connection that has been silent longest gives way (MSG
 * 4.2.1.1). For a reader, that is another reader that is silent. For a client that may control or maintain, it is any
 * reader, whether it is busy or not, and then any client that is silent and not in control. */
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
