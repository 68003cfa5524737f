/* The usual cautions where knives move or hands go near them. Every program's help and the register map's document
 * carry this text, so that it is kept in one place. */
#ifndef KNIFERAIL_CAUTION_H
#define KNIFERAIL_CAUTION_H

/* Whole lines, the last one ended. */
extern const char kr_caution[];

/* For work on a knife, a holder or its edge: what is said once more where such work is entered. Whole lines. */
extern const char kr_caution_hands[];

#endif
