/* What `kniferail set` says of a knife: arguments of its words, as registers of a maintenance request. */
#ifndef KNIFERAIL_CLI_SET_KNIFE_H
#define KNIFERAIL_CLI_SET_KNIFE_H

#include "edit_request.h"

/* Lays an argument into the block. letter: k name, K which knife, n kind, D diameter, T thickness, e edge offset,
 * m metres, t where it goes, c cause, f fragments. False: it was told on standard error that the text is none. */
bool set_knife_put(struct edit_block *block, char letter, const char *text);

#endif
