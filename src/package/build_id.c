#include "build_id.h"

#include <elf.h>
#include <link.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

struct found {
    const unsigned char *bytes;
    size_t n;
};

/* Name and description of a note lie behind its head, each filled up to four bytes (elf(5), notes). */
static size_t filled(size_t n)
{
    return (n + 3) / 4 * 4;
}

static void look_at_notes(const unsigned char *at, size_t size, struct found *found)
{
    ElfW(Nhdr) note;
    while (size >= sizeof note) {
        memcpy(&note, at, sizeof note);
        size_t head = sizeof note + filled(note.n_namesz), whole = head + filled(note.n_descsz);
        if (whole > size)
            return;
        if (note.n_type == NT_GNU_BUILD_ID && note.n_namesz == 4 && memcmp(at + sizeof note, "GNU", 4) == 0)
            *found = (struct found){at + head, note.n_descsz};
        at += whole;
        size -= whole;
    }
}

/* Where a part lies that has been loaded: as far from the table of parts as the file says, which is a part itself.
 * NULL: the table was not loaded. */
static const unsigned char *place_of(const struct dl_phdr_info *info, const ElfW(Phdr) * part)
{
    for (int i = 0; i < info->dlpi_phnum; i++)
        if (info->dlpi_phdr[i].p_type == PT_PHDR)
            return (const unsigned char *)info->dlpi_phdr + (ptrdiff_t)(part->p_vaddr - info->dlpi_phdr[i].p_vaddr);
    return NULL;
}

/* The first object is the program itself. */
static int look_at_program(struct dl_phdr_info *info, size_t size, void *arg)
{
    (void)size;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *part = &info->dlpi_phdr[i];
        const unsigned char *at = part->p_type == PT_NOTE ? place_of(info, part) : NULL;
        if (at != NULL)
            look_at_notes(at, part->p_memsz, arg);
    }
    return 1;
}

static struct found find(void)
{
    struct found found = {NULL, 0};
    (void)dl_iterate_phdr(look_at_program, &found);
    return found;
}

const char *build_id_text(char text[BUILD_ID_TEXT_MAX])
{
    struct found id = find();
    size_t used = 0;
    snprintf(text, BUILD_ID_TEXT_MAX, "unknown");
    for (size_t i = 0; i < id.n && used + 3 <= BUILD_ID_TEXT_MAX; i++)
        used += (size_t)snprintf(text + used, BUILD_ID_TEXT_MAX - used, "%02x", id.bytes[i]);
    return text;
}

uint32_t build_id_number(void)
{
    struct found id = find();
    uint32_t number = 0;
    for (size_t i = 0; i < 4 && i < id.n; i++)
        number = number << 8 | id.bytes[i];
    return number;
}
