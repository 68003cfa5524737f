/* Whether a drive may be used: looked at after every connecting, before anything is written to it. */
#ifndef POSITIONER_ADMIT_H
#define POSITIONER_ADMIT_H

#include "line.h"

enum admission {
    ADMIT_YES,
    ADMIT_LATER,   /* something has been read, and more is to be read: with the next call */
    ADMIT_REFUSED, /* the drive answers, and must not be used */
    ADMIT_FAILED,  /* the transfer failed */
};

struct admitted {
    enum admission admission;
    enum transfer transfer;          /* with FAILED */
    struct kr_drive_refusal refusal; /* with REFUSED, for whoever waits for the drive; why may be NOT */
    char reason[REASON_MAX];         /* with REFUSED, for the log */
};

/* One transfer at the most. Once everything has been seen it is YES without any, until admit_forget(); only whose drive
 * it is is looked at again now and then. */
void admit_drive(struct line *line, struct port *port, struct admitted *answer);

/* The drive may come back as another one. */
void admit_forget(struct port *port);

#endif
