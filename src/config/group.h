/* Reads a group of settings into a struct, by a table of rows. The table is the single source: the reader, the limits,
 * the defaults, the messages and the documents all come from it. */
#ifndef KNIFERAIL_CONFIG_GROUP_H
#define KNIFERAIL_CONFIG_GROUP_H

#include "errors.h"

enum kr_setting_kind {
    KR_SETTING_NUMBER, /* the ends of the names of setting and field say the units */
    KR_SETTING_WORD,   /* one of words[]; kept as its index */
    KR_SETTING_WORDS,  /* a list of some of words[]; kept as a mask */
    KR_SETTING_TEXT,   /* printable ASCII, from `least` to size - 1 characters */
    KR_SETTING_GROUP,  /* read by a table of its own */
    KR_SETTING_LIST,   /* of groups */
    KR_SETTING_TEXTS,  /* list of strings, read by its own function */
};

/* Values of `standard` for a setting that has no standard value. KR_MUST: the setting must be given. KR_OPTIONAL: the
 * setting may be absent. Its meaning then says what that means, and the field stays as it is. */
#define KR_MUST     INT64_MIN
#define KR_OPTIONAL (INT64_MIN + 1)

struct kr_setting {
    const char *name;
    enum kr_setting_kind kind;
    const char *field;
    size_t offset, size;
    int64_t least, most, standard; /* in the unit of the field */
    const char *const *words;      /* the last one is NULL; they are shown and read in lower case */
    enum kr_change change;         /* what a running station needs in order to take another value */
    const char *meaning;
};

/* Each of these makes a row. S is the struct that the table fills; change is the name of a KR_CHANGE_... without that
 * beginning. */
#define KR_NUMBER(S, name, field, least, most, standard, change, meaning) \
    { \
        name, KR_SETTING_NUMBER, #field, offsetof(S, field), sizeof(((S *)0)->field), least, most, standard, NULL, \
            KR_CHANGE_##change, meaning \
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
        name, KR_SETTING_TEXT, #field, offsetof(S, field), sizeof(((S *)0)->field), least, 0, standard, NULL, \
            KR_CHANGE_##change, meaning \
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
    /* The group; member is NULL then. If the file does not have the group, home is the setting that would contain it,
     * and member is its name. */
    const config_setting_t *home;
    const char *member;
    void *target;
    /* Of each row: the setting from which its value comes; NULL: the value is the standard. */
    const config_setting_t *at[KR_ROWS_MAX];
    /* Of each row: a mistake about its value was reported, so that no further conclusions are drawn from it. */
    bool bad[KR_ROWS_MAX];
    /* A row that the group does not have may stand in the station's group. */
    bool inherits;
};

/* Writes the standards to *target, and then the values that the file gives. Reports mistakes and unknown names. If name
 * is NULL, parent is the group itself. A missing row that must be given is not reported yet: kr_group_require(). */
void kr_group_read(struct kr_group *group, struct kr_config_errors *errors, const struct kr_table *table,
                   const config_setting_t *parent, const char *name, void *target);

/* Takes from `base` each row that base gives and that this group does not have. Both groups have the same table. */
void kr_group_inherit(struct kr_group *group, const struct kr_group *base);

/* Marks every row as bad. For a group that is missing or is no group, which was reported. */
void kr_group_spoil(struct kr_group *group);

/* Reports each row that must be given and is missing. */
void kr_group_require(struct kr_group *group);

/* Writes the standards of the table to *target, and leaves the fields of KR_MUST and KR_OPTIONAL rows as they are. */
void kr_group_standards(const struct kr_table *table, void *target);

/* name must be a row of the table. good() tells whether its value may be used; at() where the file gave it, or NULL. */
bool kr_group_good(const struct kr_group *group, const char *name);
const config_setting_t *kr_group_at(const struct kr_group *group, const char *name);

/* Reports a mistake about the value of a row: "file:line: path: value seen; text". */
__attribute__((format(printf, 3, 4))) void kr_group_mistake(struct kr_group *group, const char *name,
                                                            const char *format, ...);
/* Reports "at least 25.4 mm: why", or "at most ...", in the same way. limit is in the unit of the field. */
void kr_group_at_least(struct kr_group *group, const char *name, int64_t limit, const char *why);
void kr_group_at_most(struct kr_group *group, const char *name, int64_t limit, const char *why);

/* Write what values a row allows ("1 to 100 ms", "one of mm, in"), and its standard, for messages and documents. */
void kr_setting_allowed(const struct kr_setting *row, char *text, size_t size);
void kr_setting_standard(const struct kr_setting *row, char *text, size_t size);

/* Writes the value that the field of a row has in *target: "50 ms", "air, enable", "none". */
void kr_setting_value(const struct kr_setting *row, const void *target, char *text, size_t size);

/* Writes the value of a setting as a person would look for it in the file. */
#define KR_SEEN_MAX 64
void kr_setting_seen(const config_setting_t *setting, char seen[KR_SEEN_MAX]);

#endif
