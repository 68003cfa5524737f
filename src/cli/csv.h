/* Comma-separated values, read and written as RFC 4180 defines them. The reader also takes lines that end in LF alone
 * and a byte order mark at the beginning, as spreadsheets write them. */
#ifndef KNIFERAIL_CLI_CSV_H
#define KNIFERAIL_CLI_CSV_H

#include <stdbool.h>
#include <stdio.h>

#define CSV_FIELDS_MAX 20
#define CSV_RECORD_MAX 2000 /* bytes of a record's fields, with a 0 after each field */

struct csv_reader {
    FILE *file; /* the caller's, open for reading */
    /* The line where the record begins, from 1. After CSV_END: the last line of the file, 0 if it is empty. */
    unsigned long line;
    int n; /* fields of the record, at least 1: an empty line has one empty field */
    char *field[CSV_FIELDS_MAX];
    const char *error; /* after CSV_WRONG: what is wrong */
    unsigned long lines_read;
    size_t used;
    char text[CSV_RECORD_MAX];
};

enum csv_answer { CSV_RECORD, CSV_END, CSV_WRONG };

void csv_read_from(struct csv_reader *reader, FILE *file);

/* Reads the next record. Its fields are valid until the next call. */
enum csv_answer csv_next(struct csv_reader *reader);

struct csv_writer {
    FILE *to;
    bool in_record;
};

/* Writes a field; it is quoted only if it must be. ferror() tells of errors. */
void csv_put(struct csv_writer *writer, const char *text);
__attribute__((format(printf, 2, 3))) void csv_put_format(struct csv_writer *writer, const char *format, ...);
void csv_end_record(struct csv_writer *writer);

#endif
