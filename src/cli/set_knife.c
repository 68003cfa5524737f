#include "set_knife.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "kniferail/map.h"
#include "kniferail/station.h"
#include "lengths.h"

static bool put_text(struct edit_block *block, enum kr_reg reg, const char *what, const char *text, size_t size)
{
    size_t n = strlen(text);
    if (n == 0 || n >= size) {
        kr_usage("set", "%s '%s': 1 to %zu characters", what, text, size - 1);
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        uint16_t c = (unsigned char)text[i];
        *edit_at(block, reg, (uint16_t)(i / 2)) |= (uint16_t)(i % 2 ? c : c << 8);
    }
    return true;
}

static bool put_name(struct edit_block *block, const char *text)
{
    return put_text(block, KR_REG_EDIT_KNIFE, "knife", text, KR_KNIFE_NAME_MAX);
}

/* "1/3" */
static bool is_on_holder(const char *text, const char **slash)
{
    *slash = text + strspn(text, "0123456789");
    return *slash != text && **slash == '/' && (*slash)[1] != '\0' &&
           (*slash)[1 + strspn(*slash + 1, "0123456789")] == '\0';
}

static bool put_which(struct edit_block *block, const char *text)
{
    const char *slash;
    char rail[16];
    long r, h;
    if (!is_on_holder(text, &slash))
        return put_name(block, text[0] == '=' ? text + 1 : text);
    snprintf(rail, sizeof rail, "%.*s", (int)(slash - text), text);
    if (!kr_number("set", "rail", rail, 1, KR_RAILS_MAX, &r) ||
        !kr_number("set", "holder", slash + 1, 1, KR_HOLDERS_MAX, &h))
        return false;
    *edit_at(block, KR_REG_EDIT_RAIL, 0) = (uint16_t)r;
    *edit_at(block, KR_REG_EDIT_HOLDER, 0) = (uint16_t)h;
    return true;
}

/* "-" means that the argument is not given; *given says whether it is. */
static bool put_length(struct edit_block *block, enum kr_reg reg, const char *what, const char *text, bool *given)
{
    int64_t nm;
    *given = strcmp(text, "-") != 0;
    if (!*given)
        return true;
    if (!length_read("set", what, text, block->format.length_unit, &nm))
        return false;
    edit_put_length(block, reg, 0, nm);
    return true;
}

static bool put_offset(struct edit_block *block, const char *text)
{
    bool given;
    if (!put_length(block, KR_REG_EDIT_OFFSET, "offset", text, &given))
        return false;
    *edit_at(block, KR_REG_EDIT_KNIFE_GIVEN, 0) |= given ? KR_KNIFE_GIVEN_OFFSET : 0;
    return true;
}

static bool put_metres(struct edit_block *block, const char *text)
{
    long metres;
    if (!kr_number("set", "metres", text, 0, INT_MAX, &metres))
        return false;
    edit_put_32(block, KR_REG_EDIT_KNIFE_METRES, 0, (uint32_t)metres);
    *edit_at(block, KR_REG_EDIT_KNIFE_GIVEN, 0) |= KR_KNIFE_GIVEN_METRES;
    return true;
}

/* Reads a word of the register's list. least: the lowest number that is possible here. */
static bool put_word(struct edit_block *block, enum kr_reg reg, const char *what, const char *text, int least, int most)
{
    const char *set = kr_reg_info(reg)->name;
    char all[128] = "";
    for (int n = least; n <= most; n++) {
        const char *word = kr_number_word(set, n);
        *edit_at(block, reg, 0) = (uint16_t)n;
        if (strcmp(word, text) == 0)
            return true;
        size_t used = strlen(all);
        snprintf(all + used, sizeof all - used, "%s%s", n > least ? ", " : "", word);
    }
    kr_usage("set", "%s '%s': %s", what, text, all);
    return false;
}

bool set_knife_put(struct edit_block *block, char letter, const char *text)
{
    bool given;
    block->of_knife = true;
    switch (letter) {
    case 'k': return put_name(block, text);
    case 'K': return put_which(block, text);
    case 'n': return put_text(block, KR_REG_EDIT_KNIFE_KIND, "kind", text, KR_KNIFE_KIND_MAX);
    case 'D': return put_length(block, KR_REG_EDIT_KNIFE_DIAMETER, "diameter", text, &given);
    case 'T': return put_length(block, KR_REG_EDIT_KNIFE_THICKNESS, "thickness", text, &given);
    case 'e': return put_offset(block, text);
    case 'm': return put_metres(block, text);
    case 't': return put_word(block, KR_REG_EDIT_KNIFE_TO, "where", text, KR_KNIFE_SHELF, KR_KNIFE_GRINDER);
    case 'c': return put_word(block, KR_REG_EDIT_KNIFE_CAUSE, "cause", text, KR_CAUSE_UNKNOWN, KR_CAUSE_CRACK);
    default:
        return put_word(block, KR_REG_EDIT_KNIFE_FRAGMENTS, "fragments", text, KR_FRAGMENTS_NOT_SOUGHT,
                        KR_FRAGMENTS_MISSING);
    }
}
