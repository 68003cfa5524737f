#include "seed.h"

#include <stdio.h>

#include "log.h"

static void tell(void *station, const struct kr_config_difference *d)
{
    log_line(LOG_NOTICE, "%s: %s is %s in the book and %s in the file; the book counts", (const char *)station,
             d->where, d->was, d->is);
}

void seed_tell_differences(const struct kr_config_station *config, const struct kr_durable *book)
{
    char name[KR_NAME_MAX];
    snprintf(name, sizeof name, "%s", config->station.name);
    kr_config_against_book(config, book, (struct kr_config_listener){tell, name});
}

bool seed_sizes_listed(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                       size_t error_size)
{
    int n_sizes = config->station.geometry.n_sizes, more = -1, rail = 0, holder = 0, size = 0;
    for (int r = config->station.geometry.n_rails - 1; r >= 0; r--)
        for (int h = config->station.geometry.rail[r].n_holders - 1; h >= 0; h--)
            if (book->holder[r][h].holder_size > n_sizes) {
                more++;
                rail = r + 1;
                holder = h + 1;
                size = book->holder[r][h].holder_size;
            }
    if (more < 0)
        return true;
    snprintf(error, error_size,
             "rail %d, holder %d (and %d more) has size %d in the book, and the station file lists sizes 1 "
             "to %d: list the size again; a size may be removed only when no holder has it any more "
             "(`kniferail set size`)",
             rail, holder, more, size, n_sizes);
    return false;
}

bool seed_frames_fit(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                     size_t error_size)
{
    for (uint16_t r = 0; r < config->station.geometry.n_rails; r++) {
        struct kr_carriage_config carriage = config->station.carriage[r];
        int32_t position_um, limit_um;
        char position[24], limit[24];
        if (book->frame_origin[r] == KR_FRAME_FROM_NONE)
            continue;
        carriage.frame = book->frame[r];
        if (book->switch_origin[r] != KR_FRAME_FROM_NONE)
            carriage.switch_offset_um = book->of_switch[r].offset_um;
        if (kr_carriage_reaches(&config->station.geometry.rail[r], &carriage, &position_um, &limit_um))
            continue;
        kr_length_text(position_um, config->station.format.length_unit, position, sizeof position);
        kr_length_text(limit_um, config->station.format.length_unit, limit, sizeof limit);
        snprintf(error, error_size,
                 "rail %u: by the frame in the book, the carriage would have to go to its drive's position "
                 "%s, but its travel ends at %s: restore the rail's limits, references, park_mm or travel in "
                 "the station file",
                 r + 1u, position, limit);
        return false;
    }
    return true;
}

bool seed_sizes_in_place(const struct kr_config_station *config, const struct kr_book_sizes *book, char *error,
                         size_t error_size)
{
    for (uint16_t k = 0; k < KR_SIZES_MAX; k++) {
        const char *was = book->name[k], *is = config->station.size_name[k];
        uint16_t at = kr_config_size_named(config, was);
        if (at > 0 && at != k + 1) {
            snprintf(error, error_size,
                     "size %s is number %u in the book, and stands at place %u of the station file's list: "
                     "put it back to place %u, and new sizes at the end",
                     was, k + 1u, at, k + 1u);
            return false;
        }
        if (at == 0 && was[0] != '\0' && k < config->station.geometry.n_sizes)
            log_line(LOG_NOTICE, "%s: size %u was called %s in the book, and is called %s from now on",
                     config->station.name, k + 1u, was, is);
    }
    return true;
}

void seed_machine(struct kr_config_station *config, const struct kr_durable *book)
{
    static struct sim_config as_configured; /* static, because it is large; used only during the start */
    as_configured = config->simulated;
    for (int r = 0; r < config->simulated.n_rails; r++) {
        struct sim_rail_config *rail = &config->simulated.rail[r];
        for (int h = 0; h < rail->n_holders; h++) {
            if (book->holder[r][h].known != KR_UNKNOWN)
                rail->holder[h].start_um = book->holder[r][h].position_um;
            rail->holder[h].absent = book->holder[r][h].state == KR_HOLDER_ABSENT;
        }
        /* A carriage that stood still in the book's last state still stands there, by the position of a drive that has
         * its datum. */
        if (book->rests[r])
            rail->carriage_um = book->rest_um[r] - (rail->home_offset_um - rail->home_um);
    }
    struct sim_mistake mistake = sim_config_check(&config->simulated);
    if (mistake.what == NULL)
        return;
    log_line(LOG_WARNING,
             "%s: the simulated machine can't be set up as the book says (rail %u, holder %u, %s); it begins "
             "as configured",
             config->station.name, mistake.rail, mistake.holder, mistake.what);
    config->simulated = as_configured;
}
