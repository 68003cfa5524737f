/* A station's past, from the file that `kniferail records` writes: the panel itself has no right to the book. What is
 * shown is made anew from what was found right: nothing of the file is passed on as it stands. */
#ifndef KNIFERAIL_PANEL_RECORDS_H
#define KNIFERAIL_PANEL_RECORDS_H

#include <jansson.h>
#include <stdbool.h>

#include "watch.h"

#define RECORDS_BYTES_MAX       8388608 /* 8 MiB */
#define RECORDS_CHANGEOVERS_MAX 1000
#define RECORDS_ALARMS_MAX      256
#define RECORDS_HOLDERS_MAX     512
#define RECORDS_TEXT_MAX        400 /* bytes of a text, without a closing 0 */
#define RECORDS_ERROR_MAX       200

/* What the file's bytes say. A new reference; NULL: error says what is wrong. Pure, but for the memory it takes. */
json_t *records_of_bytes(const char *bytes, size_t size, char error[RECORDS_ERROR_MAX]);

struct records;

/* path has to outlive it. NULL without memory. */
struct records *records_new(const char *path);
void records_free(struct records *records); /* NULL: nothing */

/* The text to answer with, held for the caller; the file is read again only where it is another one. good: it is the
 * records of a station of that name (NULL: of any); else a JSON object with the member error. NULL without memory. For
 * one thread. */
struct shared *records_look(struct records *records, const char *station, bool *good);

#endif
