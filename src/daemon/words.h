/* Names of states, commands and the like, as people read them: from the register map's own tables. */
#ifndef DAEMON_WORDS_H
#define DAEMON_WORDS_H

#define WORD_MAX 32

/* "changeover" for ("COMMAND_JOB", 1); the number itself where the map has no name for it. Returns text. */
const char *word_for(const char *set, int number, char text[WORD_MAX]);

#endif
