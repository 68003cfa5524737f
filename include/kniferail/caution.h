/* The usual cautions where knives move or hands go near them. Every program's help and the register map's document
 * carry this text, so that it is kept in one place. */
#ifndef KNIFERAIL_CAUTION_H
#define KNIFERAIL_CAUTION_H

/* Whole lines, the last one ended. */
extern const char kr_caution[];

#endif
