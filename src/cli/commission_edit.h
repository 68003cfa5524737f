/* A maintenance request in a step of commissioning. */
#ifndef KNIFERAIL_CLI_COMMISSION_EDIT_H
#define KNIFERAIL_CLI_COMMISSION_EDIT_H

#include "commission.h"
#include "edit_request.h"

/* Begins an empty block for a request of that kind. Rail and holder count from 1; 0 means none. */
void commission_edit_begin(const struct commission *c, struct edit_block *block, enum kr_edit_kind kind,
                           uint16_t rail_number, uint16_t holder_number);

/* Makes the request, and waits for the verdict. *code is the result. `why` gives the reason of a refusal in words, and
 * is empty otherwise. Returns false if the station does not answer. */
bool commission_edit(struct commission *c, struct edit_block *block, enum kr_code *code, char *why, size_t size);

#endif
