/* A maintenance request in a step of commissioning. */
#ifndef KNIFERAIL_CLI_COMMISSION_EDIT_H
#define KNIFERAIL_CLI_COMMISSION_EDIT_H

#include "commission.h"
#include "edit_request.h"

/* An empty block for a request of that kind; numbers count from 1, and 0 is none. */
void commission_edit_begin(const struct commission *c, struct edit_block *block, enum kr_edit_kind kind,
                           uint16_t rail_number, uint16_t holder_number);

/* Asks for it, and waits for the verdict. *code is the result; `why` says it in words where it was refused, and is
 * empty otherwise. False: the station does not answer. */
bool commission_edit(struct commission *c, struct edit_block *block, enum kr_code *code, char *why, size_t size);

#endif
