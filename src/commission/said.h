/* Lengths and speeds in the sentences of a verdict, as people at its station read them. A macro's text lies in memory
 * of the block in which the macro stands. */
#ifndef KNIFERAIL_COMMISSION_SAID_H
#define KNIFERAIL_COMMISSION_SAID_H

#include "kniferail/commission.h"

#define SAID(verdict, as, decimals, mm) KR_SAID((verdict)->length_unit, as, decimals, mm)

#define LENGTH(verdict, decimals, mm)              SAID(verdict, KR_SAID_LENGTH, decimals, mm)
#define LENGTH_SIGNED(verdict, decimals, mm)       SAID(verdict, KR_SAID_LENGTH | KR_SAID_SIGNED, decimals, mm)
#define LENGTH_SHORT(verdict, decimals, mm)        SAID(verdict, KR_SAID_SHORT, decimals, mm)
#define LENGTH_SHORT_SIGNED(verdict, decimals, mm) SAID(verdict, KR_SAID_SHORT | KR_SAID_SIGNED, decimals, mm)
#define SPEED(verdict, decimals, mm_per_s)         SAID(verdict, KR_SAID_LENGTH | KR_SAID_SPEED, decimals, mm_per_s)
#define SETTING(verdict, decimals, mm)             SAID(verdict, KR_SAID_SETTING, decimals, mm)
#define SETTING_SIGNED(verdict, decimals, mm)      SAID(verdict, KR_SAID_SETTING | KR_SAID_SIGNED, decimals, mm)
#define TYPED(verdict, decimals, mm)               SAID(verdict, KR_SAID_TYPED, decimals, mm)

#endif
