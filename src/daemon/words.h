/* Names of states, commands and the like as people read them, from the tables of the register map. */
#ifndef DAEMON_WORDS_H
#define DAEMON_WORDS_H

#define WORD_MAX 32

/* Returns text: "changeover" for ("COMMAND_JOB", 1), or the number itself if the map has no name for it. */
const char *word_for(const char *set, int number, char text[WORD_MAX]);

#endif
