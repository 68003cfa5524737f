/* The usual cautions for moving knives, and for hands near them. Every program's help and the register map's document
 * have this text, which is kept in one place. */
#ifndef KNIFERAIL_CAUTION_H
#define KNIFERAIL_CAUTION_H

/* The text consists of whole lines, and the last one ends with a newline, too. */
extern const char kr_caution[];

/* The caution for work on a knife, a holder or its edge. Programs show it again where such work is entered. Whole
 * lines. */
extern const char kr_caution_hands[];

#endif
