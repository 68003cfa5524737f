/* Names of a carriage's signals. */
#ifndef KNIFERAIL_COMMISSION_SIGNALS_H
#define KNIFERAIL_COMMISSION_SIGNALS_H

#include <stddef.h>
#include <stdint.h>

/* Writes the names of a mask of inputs (KR_DI_...), as "pin_in, pin_out", or "none" for no inputs. Returns text. */
const char *inputs_text(uint16_t mask, char *text, size_t size);

#endif
