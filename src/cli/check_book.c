#include "check_book.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "kniferail/history.h"

/* What is compared, and how many differ. */
struct comparison {
    const struct kr_config_station *config;
    int differences, holders;
    bool unlisted; /* a holder has a size that the file doesn't list */
    bool moved;    /* a size stands at another place of the file's list */
};

static const struct kr_cell *cell_named(const struct kr_history_row *row, const char *name)
{
    static const struct kr_cell none = {.kind = KR_CELL_NONE};
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], name) == 0)
            return &row->cell[i];
    return &none;
}

static void tell(struct comparison *c, int64_t rail, int64_t holder, const char *what, const char *book,
                 const char *file)
{
    if (strcmp(book, file) == 0)
        return;
    printf("    rail %" PRId64 ", holder %" PRId64 ": %s is %s in the book and %s in the file\n", rail,
           holder, what, book, file);
    c->differences++;
}

static void compare_offsets(struct comparison *c, int64_t rail, int64_t holder, int64_t book_um,
                            int32_t file_um)
{
    char book[32], file[32];
    enum kr_length_unit unit = c->config->station.format.length_unit;
    kr_length_text((int32_t)book_um, unit, book, sizeof book);
    kr_length_text(file_um, unit, file, sizeof file);
    tell(c, rail, holder, "the edge offset", book, file);
}

static void compare_sizes(struct comparison *c, int64_t rail, int64_t holder, int64_t in_book,
                          uint8_t in_file)
{
    const struct kr_station_config *station = &c->config->station;
    char book[KR_SIZE_NAME_MAX + 32], file[KR_SIZE_NAME_MAX + 32];
    bool listed = in_book >= 1 && in_book <= station->geometry.n_sizes;
    snprintf(book, sizeof book, "%" PRId64 " (%s)", in_book,
             listed ? station->size_name[in_book - 1] : "which the file does not list");
    snprintf(file, sizeof file, "%u (%s)", in_file, station->size_name[in_file - 1]);
    tell(c, rail, holder, "the size", book, file);
    c->unlisted = c->unlisted || !listed;
}

static void compare_holder(struct comparison *c, const struct kr_history_row *row,
                           const struct kr_holder_data *file, int64_t rail, int64_t holder)
{
    const struct kr_cell *state = cell_named(row, "state");
    compare_sizes(c, rail, holder, cell_named(row, "size")->number, file->holder_size);
    tell(c, rail, holder, "the state", state->kind == KR_CELL_TEXT ? state->text : "",
         kr_number_word("HOLDER_STATE", file->state));
    compare_offsets(c, rail, holder, cell_named(row, "edge_offset_um")->number, file->edge_offset_um);
}

static bool compare_size(void *arg, const struct kr_history_row *row)
{
    struct comparison *c = arg;
    const struct kr_cell *name = cell_named(row, "name");
    int64_t number = cell_named(row, "number")->number;
    uint16_t at = name->kind == KR_CELL_TEXT ? kr_config_size_named(c->config, name->text) : 0;
    if (row->is_heading || at == 0 || at == number)
        return true;
    printf("    size %s is number %" PRId64 " in the book and %u in the file\n", name->text, number, at);
    c->differences++;
    c->moved = true;
    return true;
}

/* One holder as the book has it. Holders that the file has no more are told, too. */
static bool compare_row(void *arg, const struct kr_history_row *row)
{
    struct comparison *c = arg;
    const struct kr_geometry *g = &c->config->station.geometry;
    int64_t rail = cell_named(row, "rail")->number, holder = cell_named(row, "holder")->number;
    if (row->is_heading)
        return true;
    c->holders++;
    bool is_there = rail >= 1 && rail <= g->n_rails && holder >= 1 && holder <= g->rail[rail - 1].n_holders;
    if (is_there)
        compare_holder(c, row, &c->config->holder[rail - 1][holder - 1], rail, holder);
    else
        tell(c, rail, holder, "it", "there", "missing");
    return true;
}

static bool fail(const struct kr_config *config, const char *why)
{
    fprintf(stderr, "kniferail check: book %s: %s\n", config->book_path, why);
    return false;
}

static bool check_station(const struct kr_config *config, const struct kr_config_station *station)
{
    struct comparison c = {.config = station};
    char error[KR_BOOK_TEXT_MAX];
    struct kr_history *book = kr_history_open(config->book_path, station->station.name, error, sizeof error);
    if (book == NULL)
        return fail(config, error);
    printf("station %s: what the book has is what counts; the file seeds a new one\n", station->station.name);
    bool ok = (kr_history_read(book, KR_HISTORY_SIZES, NULL, NULL, compare_size, &c) &&
               kr_history_read(book, KR_HISTORY_HOLDERS, NULL, NULL, compare_row, &c)) ||
              fail(config, kr_history_error(book));
    if (ok && c.differences == 0)
        printf("    %d holders, each the same in both\n", c.holders);
    kr_history_close(book);
    if (c.moved)
        return fail(config, "a size has another number in the file: the gateway does not start");
    if (c.unlisted)
        return fail(config, "a holder has a size that the file doesn't list: the gateway does not start");
    return ok;
}

bool kr_check_book(const struct kr_config *config)
{
    if (config->book_path[0] == '\0')
        return fail(config, "none is configured");
    if (access(config->book_path, F_OK) != 0) {
        printf("book %s is not there yet: the next start makes it from the file\n", config->book_path);
        return true;
    }
    bool ok = true;
    for (uint16_t i = 0; i < config->n_stations; i++)
        ok = check_station(config, &config->station[i]) && ok;
    return ok;
}
