/* A group of settings, read by a table of rows into a struct. The table is the single source: the reader, the
 * limits, the defaults, the messages and the documents all come from it. */
#ifndef KNIFERAIL_CONFIG_GROUP_H
#define KNIFERAIL_CONFIG_GROUP_H

#include "errors.h"

enum kr_setting_kind {
    KR_SETTING_NUMBER, /* units by the ends of the names of setting and field */
    KR_SETTING_WORD,   /* one of words[]; kept as its index */
    KR_SETTING_WORDS,  /* a list of them; kept as a mask */
    KR_SETTING_TEXT,   /* printable ASCII, least to size - 1 characters */
    KR_SETTING_GROUP,  /* read by a table of its own */
    KR_SETTING_LIST,   /* of groups */
    KR_SETTING_TEXTS,  /* list of strings, read by its own function */
};

/* Standards that are none. */
#define KR_MUST     INT64_MIN       /* must be given */
#define KR_OPTIONAL (INT64_MIN + 1) /* what its absence means, the meaning says; the field stays as it is */

struct kr_setting {
    const char *name;
    enum kr_setting_kind kind;
    const char *field;
    size_t offset, size;
    int64_t least, most, standard; /* in what the field is kept in */
    const char *const *words;      /* ends with NULL; shown and read in lower case */
    enum kr_change change;         /* what a running station needs to take another value */
    const char *meaning;
};

/* Makers of rows. S is the struct that the table fills; change is a KR_CHANGE_... without that beginning. */
#define KR_NUMBER(S, name, field, least, most, standard, change, meaning) \
    { \
        name, KR_SETTING_NUMBER, #field, offsetof(S, field), sizeof(((S *)0)->field), least, most, standard, \
            NULL, KR_CHANGE_##change, meaning \
    }
#define KR_WORD(S, name, field, words, standard, change, meaning) \
    { \
        name, KR_SETTING_WORD, #field, offsetof(S, field), sizeof(((S *)0)->field), 0, 0, standard, words, \
            KR_CHANGE_##change, meaning \
    }
#define KR_WORDS(S, name, field, words, standard, change, meaning) \
    { \
        name, KR_SETTING_WORDS, #field, offsetof(S, field), sizeof(((S *)0)->field), 0, 0, standard, words, \
            KR_CHANGE_##change, meaning \
    }
#define KR_TEXT(S, name, field, least, standard, change, meaning) \
    { \
        name, KR_SETTING_TEXT, #field, offsetof(S, field), sizeof(((S *)0)->field), least, 0, standard, \
            NULL, KR_CHANGE_##change, meaning \
    }
#define KR_INNER(name, kind, standard, change, meaning) \
    { \
        name, kind, "", 0, 0, 0, 0, standard, NULL, KR_CHANGE_##change, meaning \
    }

struct kr_table {
    const char *group; /* for documents: "stations.rails" */
    const struct kr_setting *row;
    size_t n;
};
#define KR_TABLE(group, rows) \
    { \
        group, rows, sizeof(rows) / sizeof((rows)[0]) \
    }

#define KR_ROWS_MAX 64

struct kr_group {
    struct kr_config_errors *errors;
    const struct kr_table *table;
    const config_setting_t *home; /* the group, or, if it isn't there, what it would stand in */
    const char *member;           /* its name then, else NULL */
    void *target;
    const config_setting_t *at[KR_ROWS_MAX]; /* where each row's value comes from; NULL: its standard */
    bool bad[KR_ROWS_MAX];                   /* told already: no conclusions are drawn from it */
    bool inherits;                           /* what it leaves open may stand in the station's group */
};

/* Reads what is given over the standards into *target: mistakes and unknown names are told. name NULL: parent is the
 * group itself. Rows that must be given are not asked for yet. */
void kr_group_read(struct kr_group *group, struct kr_config_errors *errors, const struct kr_table *table,
                   const config_setting_t *parent, const char *name, void *target);

/* What this group leaves open and `base` gives is taken from there. Same table. */
void kr_group_inherit(struct kr_group *group, const struct kr_group *base);

/* Nothing in it can be relied on: it is missing, and that was told. */
void kr_group_spoil(struct kr_group *group);

/* Tells the rows that must be given and aren't. */
void kr_group_require(struct kr_group *group);

/* The table's standards, NULL and KR_OPTIONAL rows left alone. */
void kr_group_standards(const struct kr_table *table, void *target);

/* Of a row, which must be in the table: whether its value can be relied on; where it was given, or NULL. */
bool kr_group_good(const struct kr_group *group, const char *name);
const config_setting_t *kr_group_at(const struct kr_group *group, const char *name);

/* Tells a mistake about a row's value: "file:line: path: value seen; text". */
__attribute__((format(printf, 3, 4))) void kr_group_mistake(struct kr_group *group, const char *name,
                                                            const char *format, ...);
/* The same, the text being "at least 25.4 mm: why": limit is in what the row is kept in. */
void kr_group_at_least(struct kr_group *group, const char *name, int64_t limit, const char *why);
void kr_group_at_most(struct kr_group *group, const char *name, int64_t limit, const char *why);

/* "1 to 100 ms", "one of mm, in", ... and the standard, for messages and documents. */
void kr_setting_allowed(const struct kr_setting *row, char *text, size_t size);
void kr_setting_standard(const struct kr_setting *row, char *text, size_t size);

/* The value that a row's field in *target has: "50 ms", "air, enable", "none". */
void kr_setting_value(const struct kr_setting *row, const void *target, char *text, size_t size);

/* A setting's value as a person would look for it in the file. */
#define KR_SEEN_MAX 64
void kr_setting_seen(const config_setting_t *setting, char seen[KR_SEEN_MAX]);

#endif
