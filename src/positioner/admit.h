/* admit: decides whether a drive may be used. It checks the drive after every connecting, before anything is written to
 * the drive. */
#ifndef POSITIONER_ADMIT_H
#define POSITIONER_ADMIT_H

#include "line.h"

enum admission {
    ADMIT_YES,
    ADMIT_LATER,   /* a register has been read; the next call continues with the check */
    ADMIT_REFUSED, /* the drive answers, and must not be used */
    ADMIT_FAILED,  /* the transfer failed */
};

struct admitted {
    enum admission admission;
    enum transfer transfer;          /* with ADMIT_FAILED: how it failed */
    struct kr_drive_refusal refusal; /* with ADMIT_REFUSED, for the registers; its `why` may be KR_REFUSED_NOT */
    char reason[REASON_MAX];         /* with ADMIT_REFUSED, for the log */
};

/* Makes at most one transfer. Once every check has passed, the answer is ADMIT_YES without a transfer, until
 * admit_forget(); only the check of the drive's owner is repeated now and then. */
void admit_drive(struct line *line, struct port *port, struct admitted *answer);

/* Forgets all checks, because another drive may answer after the next connecting. */
void admit_forget(struct port *port);

#endif
