/* Arguments of `kniferail set` about a knife, as registers of a maintenance request. */
#ifndef KNIFERAIL_CLI_SET_KNIFE_H
#define KNIFERAIL_CLI_SET_KNIFE_H

#include "edit_request.h"

/* Enters an argument into the block. letter: k name, K which knife, n kind, D diameter, T thickness, e edge offset, m
 * metres, t where it goes, c cause, f fragments. False: the text is wrong, which was printed to standard error. */
bool set_knife_put(struct edit_block *block, char letter, const char *text);

#endif
