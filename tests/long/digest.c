#include "digest.h"

#include <stdio.h>
#include <string.h>

/* The finalizer of splitmix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators"). */
static uint64_t mix(uint64_t z)
{
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* The same steps for every value, so that the digest does not depend on the machine's byte order or padding. An odd
 * factor and a rotation: a changed value changes the state, and later values cannot undo that. */
static uint64_t add(uint64_t state, uint64_t value)
{
    state = (state ^ value) * UINT64_C(0x9E3779B97F4A7C15);
    return state << 27 | state >> 37;
}

static uint64_t add_words(uint64_t state, const uint16_t *word, uint16_t n)
{
    for (; n >= 4; n = (uint16_t)(n - 4), word += 4)
        state = add(state, (uint64_t)word[0] << 48 | (uint64_t)word[1] << 32 | (uint64_t)word[2] << 16 | word[3]);
    for (; n > 0; n--)
        state = add(state, *word++);
    return state;
}

/* ---- the layout ------------------------------------------------------------------------------------------------ */

static enum kr_reg reg_named(const char *name)
{
    for (enum kr_reg reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++)
        if (kr_reg_info(reg)->area == KR_AREA_INPUT && strcmp(kr_reg_info(reg)->name, name) == 0)
            return reg;
    return KR_REG_NONE;
}

/* One row of the file. Returns false if it names no input register of the present map. */
static bool take_row(struct digest *digest, char *row)
{
    char name[64] = "", present[64] = "";
    row[strcspn(row, "#\r\n")] = 0;
    int n = sscanf(row, " %63[A-Z0-9_] = %63[A-Z0-9_]", name, present);
    if (n < 1)
        return row[strspn(row, " \t")] == 0;
    enum kr_reg reg = reg_named(n == 2 ? present : name);
    if (reg == KR_REG_NONE || digest->n_spans == KR_REG_COUNT)
        return false;
    const struct kr_reg_info *info = kr_reg_info(reg);
    digest->span[digest->n_spans++] =
        (struct digest_span){info->address, (uint16_t)(info->n * kr_reg_words(info->type)), info->per_rail};
    return true;
}

bool digest_open(struct digest *digest, const char *layout_path)
{
    memset(digest, 0, sizeof *digest);
    FILE *file = fopen(layout_path, "r");
    char row[256];
    unsigned line = 0;
    bool good = file != NULL;
    while (good && fgets(row, sizeof row, file) != NULL) {
        line++;
        good = take_row(digest, row);
    }
    good = good && !ferror(file) && digest->n_spans > 0;
    if (!good)
        fprintf(stderr, "%s:%u: this row names no input register of the present map, or there is no such file\n",
                layout_path, line);
    if (file != NULL)
        fclose(file);
    return good;
}

void digest_print_layout(void)
{
    printf("# The input registers of map version %d, for station_chaos's digest (digest.h).\n", KR_MAP_VERSION);
    for (enum kr_reg reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++)
        if (kr_reg_info(reg)->area == KR_AREA_INPUT && reg != KR_REG_MAP_VERSION)
            printf("%s\n", kr_reg_info(reg)->name);
}

/* ---- what a cycle says ----------------------------------------------------------------------------------------- */

static uint64_t add_axis(uint64_t state, const struct kr_axis_out *out)
{
    state = add(state, out->serial);
    state = add(state, (uint64_t)out->controlword << 48 | (uint64_t)(uint8_t)out->mode << 32 |
                           (uint64_t)out->probe_function << 16 | out->outputs);
    state = add(state, (uint64_t)(uint32_t)out->target_um << 32 | (uint32_t)out->speed_um_per_s);
    return add(state, (uint64_t)(uint32_t)out->accel_um_per_s2 << 32 | (uint32_t)out->decel_um_per_s2);
}

static uint64_t add_output(uint64_t state, const struct kr_station_out *out, uint16_t n_rails)
{
    for (uint16_t r = 0; r < n_rails; r++)
        state = add_axis(state, &out->axis[r]);
    return add(state, (uint64_t)out->plan_ticket << 8 | (unsigned)out->request_busy | (unsigned)out->edit_busy << 1 |
                          (unsigned)out->drop_control << 2 | (unsigned)out->moving << 3 | (unsigned)out->at_rest << 4);
}

/* Only what changed is added, with its place: in most cycles that is little. */
static uint64_t add_registers(uint64_t state, struct digest *digest, const struct rig *rig)
{
    const struct kr_image *image = rig_image(rig);
    for (uint16_t i = 0; i < digest->n_spans; i++) {
        const struct digest_span *span = &digest->span[i];
        uint16_t rails = span->per_rail ? rig->config.geometry.n_rails : 1;
        for (uint16_t r = 0; r < rails; r++) {
            uint16_t first = (uint16_t)(span->first + r * KR_MAP_RAIL_STRIDE);
            const uint16_t *now = &image->word[first];
            uint16_t *before = &digest->before[first];
            if (memcmp(before, now, span->words * sizeof now[0]) == 0)
                continue;
            memcpy(before, now, span->words * sizeof now[0]);
            state = add_words(add(state, (uint64_t)i << 16 | r), now, span->words);
        }
    }
    return state;
}

void digest_story_begin(struct digest *digest, uint64_t number)
{
    digest->story = mix(number);
    memset(digest->before, 0, sizeof digest->before);
}

void digest_cycle(struct digest *digest, const struct rig *rig)
{
    digest->story = add_output(digest->story, &rig->out, rig->config.geometry.n_rails);
    digest->story = add_registers(digest->story, digest, rig);
}

void digest_story_end(struct digest *digest)
{
    digest->sum += mix(digest->story);
}
