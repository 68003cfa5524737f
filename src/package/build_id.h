/* Which build a program is: the identifier that the linker gives to what it has linked, a sum over all of it. The debug
 * symbols of a build are found by it. Part of each program. */
#ifndef PACKAGE_BUILD_ID_H
#define PACKAGE_BUILD_ID_H

#include <stdint.h>

#define BUILD_ID_TEXT_MAX 65

/* In hexadecimal digits; "unknown" where the linker gave none. Returns text. */
const char *build_id_text(char text[BUILD_ID_TEXT_MAX]);

/* Its first 32 bits, which are the text's first eight digits; 0: unknown. */
uint32_t build_id_number(void);

#endif
