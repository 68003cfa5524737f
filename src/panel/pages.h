/* The files of the page, embedded by pages.cmake from the folder pages/. */
#ifndef KNIFERAIL_PANEL_PAGES_H
#define KNIFERAIL_PANEL_PAGES_H

#include <stddef.h>

struct page {
    const char *path, *type;
    const unsigned char *bytes;
    size_t size;
};
extern const struct page pages[]; /* the last one's path is NULL */

#endif
