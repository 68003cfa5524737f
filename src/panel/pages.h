/* The files of the web pages. pages.cmake embeds them from the folder pages/. */
#ifndef KNIFERAIL_PANEL_PAGES_H
#define KNIFERAIL_PANEL_PAGES_H

#include <stddef.h>

struct page {
    const char *path, *type;
    const unsigned char *bytes;
    size_t size;
};
extern const struct page pages[]; /* ends with an entry whose path is NULL */

#endif
