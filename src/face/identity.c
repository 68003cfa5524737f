#include "identity.h"

#include <stdio.h>
#include <string.h>

#include "wire.h"

enum { CODE_BASIC = 1, CODE_REGULAR = 2, CODE_EXTENDED = 3, CODE_ONE = 4 };
enum { OBJECT_REGULAR = 0x03, OBJECT_PRIVATE = 0x80, OBJECT_STATION = 0x80, OBJECT_MAP = 0x81, OBJECT_NONE = 0x100 };
#define CONFORMITY 0x83 /* extended, stream and individual access */
/* Function, MEI type, code, conformity, more follows, next object, number of objects. */
#define HEADER_BYTES 7

_Static_assert(HEADER_BYTES + 2 + KR_FACE_TEXT_MAX - 1 <= FACE_PDU_BYTES_MAX, "one object fits an answer");
_Static_assert(HEADER_BYTES + 2 + KR_NAME_MAX - 1 <= FACE_PDU_BYTES_MAX, "a station's name fits an answer");

#define TEXT_OF(version)      #version
#define VERSION_TEXT(version) TEXT_OF(version)

/* Returns NULL if there is no such object. */
static const char *object_text(const struct kr_face_identity *identity, const struct kr_face_station *station,
                               int object)
{
    const char *const public_text[] = {
        identity->vendor_name,  identity->product_code, identity->revision,         identity->vendor_url,
        identity->product_name, identity->model_name,   identity->user_application,
    };
    if (object < (int)(sizeof public_text / sizeof public_text[0]))
        return public_text[object][0] != '\0' ? public_text[object] : NULL;
    if (object == OBJECT_STATION)
        return station->name;
    return object == OBJECT_MAP ? "register map " VERSION_TEXT(KR_MAP_VERSION) : NULL;
}

/* Returns the first object, from `object` on, that belongs to the category, or OBJECT_NONE. */
static int next_object(const struct kr_face_identity *identity, const struct kr_face_station *station, int object,
                       int code)
{
    static const int end[] = {[CODE_BASIC] = OBJECT_REGULAR, [CODE_REGULAR] = OBJECT_PRIVATE, [CODE_EXTENDED] = 0x100};
    for (; object < end[code]; object++)
        if (object_text(identity, station, object) != NULL)
            return object;
    return OBJECT_NONE;
}

static size_t put_object(uint8_t *at, int object, const char *text)
{
    size_t length = strlen(text);
    at[0] = (uint8_t)object;
    at[1] = (uint8_t)length;
    for (size_t i = 0; i < length; i++) /* it has no final 0, because its length stands before it */
        at[2 + i] = (uint8_t)text[i];
    return 2 + length;
}

static size_t start(uint8_t *out, uint8_t code)
{
    const uint8_t header[HEADER_BYTES] = {FACE_FC_ENCAPSULATED, FACE_MEI_IDENTITY, code, CONFORMITY, 0, 0, 0};
    memcpy(out, header, sizeof header);
    return sizeof header;
}

/* Adds as many whole objects as fit; a further request, which names the next object, gets the rest. */
static size_t stream(const struct kr_face_identity *identity, const struct kr_face_station *station, uint8_t code,
                     int object, uint8_t *out)
{
    size_t n = start(out, code);
    for (; object != OBJECT_NONE; object = next_object(identity, station, object + 1, code)) {
        const char *text = object_text(identity, station, object);
        if (n + 2 + strlen(text) > FACE_PDU_BYTES_MAX) {
            out[4] = 0xFF;
            out[5] = (uint8_t)object;
            break;
        }
        n += put_object(out + n, object, text);
        out[6]++;
    }
    return n;
}

/* An unknown object begins a stream from the first object; if a single object is asked for, it is exception 02 (APP
 * 6.21). The object is checked before the code (APP figure 30). */
size_t face_identity_answer(const struct kr_face_identity *identity, const struct kr_face_station *station,
                            uint8_t code, uint8_t object, uint8_t *out, uint8_t *exception)
{
    const char *text = object_text(identity, station, object);
    if (code >= CODE_BASIC && code <= CODE_EXTENDED) {
        bool known = next_object(identity, station, object, code) == object;
        return stream(identity, station, code, known ? object : 0, out);
    }
    if (text == NULL || code != CODE_ONE) {
        *exception = text == NULL ? MODBUS_EXCEPTION_ILLEGAL_DATA_ADDRESS : MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE;
        return 0;
    }
    size_t n = start(out, code);
    out[6] = 1;
    return n + put_object(out + n, object, text);
}
