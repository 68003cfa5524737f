/* Reads the list `expected` of a drive: parameters that the drive must show after every connecting. */
#include <stdio.h>
#include <string.h>

#include "reading.h"

/* ---- one parameter --------------------------------------------------------------------------------------------- */

static int64_t ones(const struct expected_settings *s)
{
    return s->words == 1 ? UINT16_MAX : UINT32_MAX;
}

static bool overlap(const struct kr_expected *a, const struct kr_expected *b)
{
    return a->address < b->address + b->words && b->address < a->address + a->words;
}

static bool check_name(struct kr_group *group, const struct kr_drive *drive, const char *name)
{
    for (uint16_t i = 0; i < drive->n_expected; i++)
        if (strcmp(drive->expected[i].name, name) == 0) {
            kr_group_mistake(group, "name", "another parameter of this list already has this name");
            return false;
        }
    return true;
}

/* Bits outside of the mask are never compared, so a value with such bits can never be met. */
static bool check_value(struct kr_group *group, struct expected_settings *s)
{
    int64_t least = s->words == 1 ? INT16_MIN : INT32_MIN, most = ones(s);
    if (!kr_group_at(group, "mask"))
        s->mask = ones(s);
    if (s->value < least || s->value > most)
        kr_group_mistake(group, "value", "only %lld to %lld fit into so many words", (long long)least, (long long)most);
    else if (s->mask > most)
        kr_group_mistake(group, "mask", "only up to %lld fits into so many words", (long long)most);
    else if ((s->value & most & ~s->mask) != 0)
        kr_group_mistake(group, "value", "it has bits that mask %lld (%llXh) leaves out: no drive could show it",
                         (long long)s->mask, (unsigned long long)s->mask);
    else
        return true;
    return false;
}

static bool check_place(struct kr_group *group, const struct kr_drive *drive, const struct kr_expected *e)
{
    if (e->address + e->words > 65536) {
        kr_group_mistake(group, "register", "its second word would be beyond the last register, 65535");
        return false;
    }
    for (uint16_t i = 0; i < drive->n_expected; i++) {
        const struct kr_expected *other = &drive->expected[i];
        bool same = e->address == other->address && e->words == other->words;
        if (!overlap(e, other) || (same && (e->mask & other->mask) == 0))
            continue;
        kr_group_mistake(group, "register", "parameter \"%s\" has %s already", other->name,
                         same ? "bits of this mask" : "one of its registers");
        return false;
    }
    return true;
}

static void lay(const struct expected_settings *s, struct kr_expected *e)
{
    memcpy(e->name, s->name, sizeof e->name);
    e->address = s->address;
    e->words = s->words;
    e->is_signed = s->value < 0;
    e->value = (uint32_t)(s->value & ones(s));
    e->mask = (uint32_t)s->mask;
}

static bool read_one(struct kr_config_errors *errors, const config_setting_t *at, struct kr_drive *drive)
{
    struct kr_group group;
    struct expected_settings settings = {.value = 0};
    char path[KR_SETTING_PATH_MAX];
    if (!config_setting_is_group(at)) {
        kr_setting_path(at, NULL, path);
        kr_mistake(errors, at, path, "a parameter is a group { }");
        return false;
    }
    kr_group_read(&group, errors, &kr_expected_table, at, NULL, &settings);
    kr_group_require(&group);
    for (size_t i = 0; i < group.table->n; i++)
        if (group.bad[i])
            return false;
    struct kr_expected e;
    bool good = check_name(&group, drive, settings.name) && check_value(&group, &settings);
    lay(&settings, &e);
    good = good && check_place(&group, drive, &e);
    drive->expected[drive->n_expected++] = e;
    return good;
}

/* ---- the list -------------------------------------------------------------------------------------------------- */

bool kr_expected_read(struct kr_config_errors *errors, const config_setting_t *list, struct kr_drive *drive)
{
    bool good = true;
    int n = config_setting_length(list);
    drive->n_expected = 0;
    if (n > KR_EXPECTED_MAX) {
        char path[KR_SETTING_PATH_MAX];
        kr_setting_path(list, NULL, path);
        kr_mistake(errors, list, path, "there are %d parameters; at most %d are possible", n, KR_EXPECTED_MAX);
        good = false;
    }
    for (int i = 0; i < n && i < KR_EXPECTED_MAX; i++)
        good = read_one(errors, config_setting_get_elem(list, (unsigned)i), drive) && good;
    return good;
}

bool kr_expected_same(const struct kr_drive *a, const struct kr_drive *b)
{
    bool alike = a->n_expected == b->n_expected;
    for (uint16_t i = 0; alike && i < a->n_expected; i++) {
        const struct kr_expected *e = &a->expected[i], *other = &b->expected[i];
        alike = strcmp(e->name, other->name) == 0 && e->address == other->address && e->words == other->words &&
                e->value == other->value && e->mask == other->mask && e->is_signed == other->is_signed;
    }
    return alike;
}

/* Registers that the gateway writes or reads in every cycle change, so no fixed value can be expected in them. */
static bool is_worked(const struct kr_drivemap *map, const struct kr_expected *e, int object)
{
    const struct kr_object_info *info = kr_object_info((enum kr_object)object);
    int32_t address = map->address[object];
    return info->direction != KR_OBJECT_SETUP && address != KR_NO_REGISTER && e->address < address + info->registers &&
           address < e->address + e->words;
}

void kr_expected_check(struct kr_config_errors *errors, const config_setting_t *list, const struct kr_drive *drive)
{
    for (uint16_t i = 0; i < drive->n_expected; i++)
        for (int o = 0; o < KR_N_OBJECTS; o++) {
            const config_setting_t *at = config_setting_get_elem(list, i);
            char path[KR_SETTING_PATH_MAX];
            if (!is_worked(&drive->map, &drive->expected[i], o))
                continue;
            kr_setting_path(at, NULL, path);
            kr_mistake(errors, at, path, "register %u is registers.%s, which changes while the gateway works",
                       (unsigned)drive->expected[i].address, kr_object_info((enum kr_object)o)->setting);
        }
}
