/* Numbers of holders in words. */
#ifndef KNIFERAIL_COMMISSION_NUMBERS_H
#define KNIFERAIL_COMMISSION_NUMBERS_H

#include <stddef.h>
#include <stdint.h>

#define NUMBERS_TEXT_MAX 400 /* enough for any choice of KR_HOLDERS_MAX holders or KR_CUTS_MAX cuts */

/* Writes growing numbers as "1 to 4, 7, 8", or "" for none. Three and more that follow each other become a range.
 * Returns text. */
const char *numbers_text(const uint16_t number[], uint16_t n, char *text, size_t size);

#endif
