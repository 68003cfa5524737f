#include "kniferail/drive_error.h"

#include <stddef.h>

static const struct {
    uint16_t code;
    const char *text;
} errors[] = {
#define X(code, text) {code, text},
    KR_DRIVE_ERRORS(X)
#undef X
};

static const char *text_of(uint16_t code)
{
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++)
        if (errors[i].code == code)
            return errors[i].text;
    return NULL;
}

/* 2312h belongs to 2310h, that to 2300h, and all to 2000h. */
const char *kr_drive_error_text(uint16_t code)
{
    static const uint16_t masks[] = {0xFFFF, 0xFFF0, 0xFF00, 0xF000};
    const char *text = NULL;
    for (size_t i = 0; i < sizeof masks / sizeof masks[0] && text == NULL; i++)
        text = text_of(code & masks[i]);
    return text;
}
