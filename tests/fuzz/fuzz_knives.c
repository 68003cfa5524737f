/* fuzz_knives: any bytes as a list of knives. What must hold: the list is read to an answer; what is taken is within
 * the limits that the book and the station rely on, no name is there twice, and what became of a knife stands behind
 * it.
 *
 * With libFuzzer (KR_FUZZ), or as a program of its own that makes its input itself: fuzz_knives RUNS SEED. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "knife_rows.h"
#include "mutate.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static uint64_t taken, refused;

static void insist(bool holds, const char *what)
{
    if (holds)
        return;
    fprintf(stderr, "fuzz_knives: not so: %s\n", what);
    abort();
}

static bool is_dimension(int32_t um)
{
    return um >= 0 && um <= KR_KNIFE_DIMENSION_MAX;
}

static bool is_text(const char *text, size_t size)
{
    size_t n = strnlen(text, size);
    for (size_t i = 0; i < n; i++)
        if (text[i] < ' ' || text[i] > '~')
            return false;
    return n > 0 && n < size && text[0] != ' ' && text[n - 1] != ' ';
}

static void insist_on_knife(const struct kr_knife_row *row)
{
    bool on_holder = row->place == KR_KNIFE_HOLDER;
    insist(is_text(row->kind, sizeof row->kind), "a kind");
    insist(row->place > KR_KNIFE_NONE && row->place <= KR_KNIFE_SCRAPPED, "a place");
    insist((row->rail != 0) == on_holder && (row->holder != 0) == on_holder, "a holder for those that are on one");
    insist(!on_holder || row->edge_known, "an edge position on a holder");
    insist(row->earlier_metres >= 0 && row->earlier_metres <= KR_KNIFE_EARLIER_MAX, "metres of before");
    insist(row->grinds <= KR_KNIFE_LIST_GRINDS_MAX && (row->grinds > 0 || row->earlier_metres == 0), "grinds");
}

static void insist_on_row(const struct knife_rows *rows, size_t i)
{
    const struct kr_knife_row *row = &rows->row[i];
    size_t knives = 0;
    insist(is_text(row->name, sizeof row->name), "a name");
    insist(row->rail <= KR_RAILS_MAX && row->holder <= KR_HOLDERS_MAX, "a rail and a holder");
    insist(is_dimension(row->diameter_um) && is_dimension(row->thickness_um) && is_dimension(row->diameter_before_um) &&
               is_dimension(row->thickness_before_um),
           "dimensions");
    insist(row->edge_um >= -KR_EDGE_OFFSET_MAX_UM && row->edge_um <= KR_EDGE_OFFSET_MAX_UM, "an edge position");
    insist(row->cause <= KR_CAUSE_CRACK && row->fragments <= KR_FRAGMENTS_MISSING, "a cause");
    insist(memchr(row->at, '\0', sizeof row->at) != NULL, "a time");
    for (size_t k = 0; k < i; k++)
        knives += rows->row[k].record == KR_RECORD_KNIFE && strcmp(rows->row[k].name, row->name) == 0;
    insist(knives == (row->record != KR_RECORD_KNIFE), "one knife of a name, before what became of it");
    if (row->record == KR_RECORD_KNIFE)
        insist_on_knife(row);
    else
        insist(row->at[0] != '\0', "when it became of it");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static const uint8_t none[1] = {0};
    struct knife_rows rows;
    FILE *file = fmemopen((void *)(n > 0 ? data : none), n > 0 ? n : 1, "r");
    insist(file != NULL, "there is memory");
    bool good = knife_rows_read(file, "list", NULL, &rows);
    for (size_t i = 0; good && i < rows.n; i++)
        insist_on_row(&rows, i);
    insist(!good || rows.n > 0, "a list has knives");
    taken += good;
    refused += !good;
    knife_rows_free(&rows);
    fclose(file);
    return 0;
}

#ifndef KR_FUZZ

#define HEAD \
    "record,name,kind,place,rail,holder,diameter_um,thickness_um,edge_um,metres,earlier_metres,grinds,at," \
    "diameter_before_um,thickness_before_um,cause,fragments,fell_metres\r\n"
static const struct mutate_seed seeds[] = {
    SEED("name,kind,place\nK-1,upper 130,shelf\nK-2,lower,grinder\n"),
    SEED(HEAD "knife,A,\"a,\"\"b\",holder,1,3,130000,5000,-300,77,17,2,2026-03-01T06:30:00.000Z,,,,,\r\n"
              "grind,A,,,1,3,129400,,9,8,,,2026-01-02,130000,5000,,,\r\n"),
    SEED(HEAD "knife,B,k,broken,,,,,,4294967295,0,0,,,,,,\r\n"
              "break,B,,,2,5,,,,5,,,2026-02-28,,,crash,missing,12\r\n"),
    SEED("\xEF\xBB\xBFplace,metres,grinds,earlier_metres,kind,name\r\nscrapped,0,9999,1000000000000,k,N\r\n"),
};
#define N_SEEDS (sizeof seeds / sizeof seeds[0])

static void one_run(uint64_t seed, uint32_t run)
{
    uint8_t bytes[600];
    const struct mutate_seed *from = &seeds[mutate_draw(seed, run, 0) % N_SEEDS];
    memcpy(bytes, from->bytes, from->n);
    LLVMFuzzerTestOneInput(bytes, mutate(bytes, from->n, 0, seed, run));
}

int main(int argc, char *argv[])
{
    uint64_t seed;
    uint32_t runs = mutate_runs(argc, argv, &seed);
    for (uint32_t i = 0; i < runs; i++)
        one_run(seed, i);
    printf("fuzz_knives: %u runs, seed %llu: %llu lists taken, %llu refused\n", runs, (unsigned long long)seed,
           (unsigned long long)taken, (unsigned long long)refused);
    return taken > 0 && refused > 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

#endif
