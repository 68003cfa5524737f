#include "check_book.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "kniferail/history.h"

/* The comparison of a station with the book: the number of differences, and what they are. */
struct comparison {
    const struct kr_config_station *config;
    struct kr_durable book;
    int differences, holders;
    bool unlisted; /* a holder has a size that the file doesn't list */
    bool moved;    /* a size has another place in the file's list */
};

static const struct kr_cell *cell_named(const struct kr_history_row *row, const char *name)
{
    static const struct kr_cell none = {.kind = KR_CELL_NONE};
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], name) == 0)
            return &row->cell[i];
    return &none;
}

static int state_named(const struct kr_cell *cell)
{
    for (int state = KR_HOLDER_IN; state <= KR_HOLDER_ABSENT; state++)
        if (cell->kind == KR_CELL_TEXT && strcmp(cell->text, kr_number_word("HOLDER_STATE", state)) == 0)
            return state;
    return KR_HOLDER_IN;
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

/* Takes a holder from the book. A holder that the file does not have any more is printed at once. */
static bool take_row(void *arg, const struct kr_history_row *row)
{
    struct comparison *c = arg;
    const struct kr_geometry *g = &c->config->station.geometry;
    int64_t rail = cell_named(row, "rail")->number, holder = cell_named(row, "holder")->number;
    if (row->is_heading)
        return true;
    c->holders++;
    if (rail < 1 || rail > g->n_rails || holder < 1 || holder > g->rail[rail - 1].n_holders) {
        printf("    rail %" PRId64 ", holder %" PRId64 ": it is in the book and not in the file\n", rail, holder);
        c->differences++;
        return true;
    }
    struct kr_holder_data *is = &c->book.holder[rail - 1][holder - 1];
    is->holder_size = (uint8_t)cell_named(row, "size")->number;
    is->edge_offset_um = (int32_t)cell_named(row, "edge_offset_um")->number;
    is->state = (uint8_t)state_named(cell_named(row, "state"));
    c->unlisted = c->unlisted || is->holder_size > g->n_sizes;
    return true;
}

/* Takes one point of a rail's frame, or the frame of a rail without points. */
static bool take_frame(void *arg, const struct kr_history_row *row)
{
    struct comparison *c = arg;
    int64_t rail = cell_named(row, "rail")->number, point = cell_named(row, "point")->number;
    if (row->is_heading || rail < 1 || rail > c->config->station.geometry.n_rails)
        return true;
    struct kr_frame *frame = &c->book.frame[rail - 1];
    c->book.frame_origin[rail - 1] = (uint8_t)cell_named(row, "origin")->number;
    c->book.switch_origin[rail - 1] = (uint8_t)cell_named(row, "switch_origin")->number;
    c->book.of_switch[rail - 1] = (struct kr_switch){(int32_t)cell_named(row, "switch_offset_um")->number,
                                                     (int32_t)cell_named(row, "scan_bias_um")->number};
    c->book.times_origin[rail - 1] = (uint8_t)cell_named(row, "times_origin")->number;
    c->book.times[rail - 1] = (struct kr_rail_times){
        (int32_t)cell_named(row, "dock_us")->number, (int32_t)cell_named(row, "undock_us")->number,
        (int32_t)cell_named(row, "setpoint_us")->number, (int32_t)cell_named(row, "rounding_us")->number};
    frame->offset_um = (int32_t)cell_named(row, "frame_offset_um")->number;
    frame->scale_ppb = (int32_t)cell_named(row, "frame_scale_ppb")->number;
    if (cell_named(row, "point")->kind != KR_CELL_NUMBER || point < 1 || point > KR_FRAME_POINTS_MAX)
        return true;
    frame->point[point - 1] = (struct kr_frame_point){(int32_t)cell_named(row, "at_um")->number,
                                                      (int32_t)cell_named(row, "error_um")->number};
    frame->n_points = (uint16_t)point;
    return true;
}

static void tell(void *arg, const struct kr_config_difference *d)
{
    struct comparison *c = arg;
    printf("    %s is %s in the book and %s in the file\n", d->where, d->was, d->is);
    c->differences++;
}

static bool fail(const struct kr_config *config, const char *why)
{
    fprintf(stderr, "kniferail check: book %s: %s\n", config->book_path, why);
    return false;
}

/* Data that the book does not have yet comes from the file, so it counts as no difference. */
static void begin(struct comparison *c, const struct kr_config_station *station)
{
    *c = (struct comparison){.config = station};
    memcpy(c->book.holder, station->holder, sizeof c->book.holder);
}

static bool check_station(const struct kr_config *config, const struct kr_config_station *station)
{
    static struct comparison c; /* static, because it is large */
    char error[KR_BOOK_TEXT_MAX];
    struct kr_history *book = kr_history_open(config->book_path, station->station.name, error, sizeof error);
    if (book == NULL)
        return fail(config, error);
    begin(&c, station);
    printf("station %s: the values in the book count; the file only fills a new book\n", station->station.name);
    bool ok = (kr_history_read(book, KR_HISTORY_SIZES, NULL, compare_size, &c) &&
               kr_history_read(book, KR_HISTORY_FRAMES, NULL, take_frame, &c) &&
               kr_history_read(book, KR_HISTORY_HOLDERS, NULL, take_row, &c)) ||
              fail(config, kr_history_error(book));
    if (ok)
        kr_config_against_book(station, &c.book, (struct kr_config_listener){tell, &c});
    if (ok && c.differences == 0)
        printf("    %d holders and the frames of the rails are the same in both\n", c.holders);
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
        return fail(config, "the station file names no book");
    if (access(config->book_path, F_OK) != 0) {
        printf("book %s is not there yet: the next start makes it from the file\n", config->book_path);
        return true;
    }
    bool ok = true;
    for (uint16_t i = 0; i < config->n_stations; i++)
        ok = check_station(config, &config->station[i]) && ok;
    return ok;
}
