/* A station's past, from the file that `kniferail records` writes, because the panel may not read the book. The file is
 * checked, and its content is built anew from the checked values: nothing is passed on unchanged. */
#ifndef KNIFERAIL_PANEL_RECORDS_H
#define KNIFERAIL_PANEL_RECORDS_H

#include <jansson.h>
#include <stdbool.h>

#include "watch.h"

#define RECORDS_BYTES_MAX       8388608 /* 8 MiB */
#define RECORDS_CHANGEOVERS_MAX 1000
#define RECORDS_ALARMS_MAX      256
#define RECORDS_HOLDERS_MAX     512
#define RECORDS_TEXT_MAX        400 /* bytes of a text, without the final 0 */
#define RECORDS_ERROR_MAX       200

/* Checks the file's bytes and returns a new reference to their content. NULL: error says what is wrong. Pure, except
 * that it allocates memory. */
json_t *records_of_bytes(const char *bytes, size_t size, char error[RECORDS_ERROR_MAX]);

struct records;

/* path must stay valid. NULL: there is no memory. */
struct records *records_new(const char *path);
void records_free(struct records *records); /* does nothing for NULL */

/* Returns the text of the answer, held for the caller. Reads the file again only if it has changed. *good: the text is
 * the records of the station of that name (NULL: of any station); otherwise it is a JSON object with the member error.
 * NULL: there is no memory. Only one thread may call it. */
struct shared *records_look(struct records *records, const char *station, bool *good);

#endif
