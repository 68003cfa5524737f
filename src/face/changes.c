#include "changes.h"

#include <stdio.h>
#include <string.h>

#define SECOND_MS  1000
#define ONE_BY_ONE 20

static void tell_together(struct face_changes *changes, struct face_notes *notes, const char *station)
{
    if (changes->more > 0)
        face_note(notes, LOG_INFO,
                  "station %s: %s changes %s %u more times within a second, from %04Xh to finally %04Xh; "
                  "bits withdrawn meanwhile: %04Xh",
                  station, changes->who, changes->name, changes->more, changes->from, changes->to, changes->withdrawn);
    changes->more = 0;
    changes->withdrawn = 0;
}

static void gather(struct face_changes *changes, const struct face_client *client, const char *name, uint16_t from,
                   uint16_t to)
{
    if (changes->more++ == 0) {
        changes->from = from;
        changes->name = name;
        snprintf(changes->who, sizeof changes->who, "%s", client->text);
    }
    changes->to = to;
    changes->withdrawn |= (uint16_t)(from & ~to);
}

void face_changes_note(struct face_changes *changes, struct face_notes *notes, const char *station,
                       const struct face_client *client, const char *name, uint16_t from, uint16_t to)
{
    bool goes_on = changes->more > 0 && changes->name == name && strcmp(changes->who, client->text) == 0;
    face_changes_tick(changes, notes, station);
    if (changes->more > 0 && !goes_on)
        tell_together(changes, notes, station);
    if (changes->told == ONE_BY_ONE) {
        gather(changes, client, name, from, to);
        return;
    }
    changes->told++;
    face_note(notes, LOG_INFO, "station %s: %s port %u changes %s from %04Xh to %04Xh", station, client->text,
              client->port, name, from, to);
}

void face_changes_tick(struct face_changes *changes, struct face_notes *notes, const char *station)
{
    if (notes->now_ms - changes->second_ms < SECOND_MS)
        return;
    tell_together(changes, notes, station);
    changes->second_ms = notes->now_ms;
    changes->told = 0;
}
