/* The frame of a rail: readings of tape, laser or bar, typed in or from a file, and the frame that they give. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "calibrate_cmd.h"
#include "commission.h"

#define FILES_MAX 99 /* number of files of readings that a session keeps for a rail */

#define REFERENCE_CELSIUS 20.0 /* ISO 1 */
#define STEEL_PPM         11.5 /* per kelvin; ISO 3650 has it for gauge blocks of steel (from memory) */

static struct calibrate_job job; /* large */

/* ---- readings -------------------------------------------------------------------------------------------------- */

static bool ask_way(struct commission *c, uint16_t rail, char answer[COMMISSION_LINE_MAX])
{
    char at[COMMISSION_LENGTH_MAX];
    return commission_ask_text(c, answer,
                               "Carriage %u is shown at %s, %u readings are taken. Type drive or operator to jog "
                               "towards that side, read to type in a reading where it stands, or done.",
                               rail + 1u, commission_length(c, commission_place_um(c, rail), at), (unsigned)job.n);
}

static bool go(struct commission *c, uint16_t rail, int8_t direction)
{
    struct kr_jog_seen jog = {.direction = direction};
    int32_t way_um;
    if (!commission_ask_um(c, &way_um, "How far?"))
        return false;
    return way_um == 0 || commission_press(c, rail, abs(way_um), &jog);
}

/* A place that is read again from the same side belongs to the next run, so that calibrate_read takes what is kept. */
static uint16_t next_run(double target_mm, uint8_t direction)
{
    uint16_t run = 1;
    for (size_t i = 0; i < job.n; i++)
        run = (uint16_t)(run + (job.reading[i].target_mm == target_mm && job.reading[i].direction == direction));
    return run;
}

/* Asks for a reading until the person keeps it. It is compared with the shown place, so that a reading from another
 * zero, or one that grows to the other side, is seen at once. A drive whose power is locked out may not answer, and
 * then no place is shown: *linked is false if somebody gives up waiting for it. */
static bool ask_reading(struct commission *c, uint16_t rail, int32_t *read_um, bool *linked)
{
    bool kept = false;
    while (!kept) {
        if (!commission_ask_um(c, read_um,
                               "Lock out drives and air before hands come near, and wear cut-resistant gloves. What "
                               "does the instrument show? Measure from the zero of the machine's "
                               "frame, growing to the drive side.") ||
            !commission_wait_link(c, rail, linked))
            return false;
        if (!*linked)
            return true;
        char read[COMMISSION_LENGTH_MAX], off[COMMISSION_LENGTH_MAX], at[COMMISSION_LENGTH_MAX];
        int32_t place_um = commission_place_um(c, rail), off_um = *read_um - place_um;
        if (!commission_ask_yes(c, &kept,
                                "The reading of %s is %s%s off the place that is shown, %s. Is the reading kept? With "
                                "no, it is asked for again.",
                                commission_length(c, *read_um, read), off_um >= 0 ? "+" : "",
                                commission_length(c, off_um, off), commission_length(c, place_um, at)))
            return false;
    }
    return true;
}

static bool take(struct commission *c, uint16_t rail, int8_t direction)
{
    int32_t read_um;
    bool linked;
    if (!ask_reading(c, rail, &read_um, &linked))
        return false;
    if (!linked) {
        commission_say("No reading was taken, because the drive shows no place.");
        return true;
    }
    double target_mm = commission_place_um(c, rail) / 1000.0;
    uint8_t from = direction > 0 ? KR_RISING : KR_FALLING;
    job.reading[job.n++] = (struct kr_reading){
        .target_mm = target_mm, .reading_mm = read_um / 1000.0, .direction = from, .run = next_run(target_mm, from)};
    return true;
}

/* Takes readings. The carriage must be jogged first, so that it is known from which side it came. */
static bool take_readings(struct commission *c, uint16_t rail)
{
    char answer[COMMISSION_LINE_MAX];
    int8_t direction = 0;
    while (job.n < KR_CALIBRATION_TARGETS_MAX) {
        if (!commission_look(c) || !ask_way(c, rail, answer))
            return false;
        if (strcmp(answer, "done") == 0)
            break;
        if (strcmp(answer, "read") == 0 && direction == 0)
            commission_say("Jog it first: the side from which it comes is part of a reading.");
        else if (strcmp(answer, "read") == 0 && !take(c, rail, direction))
            return false;
        if (strcmp(answer, "drive") != 0 && strcmp(answer, "operator") != 0)
            continue;
        direction = (int8_t)(strcmp(answer, "drive") == 0 ? 1 : -1);
        if (!go(c, rail, direction))
            return false;
    }
    return true;
}

/* Keeps the readings beside the session, in a file of their own. */
static bool keep(struct commission *c, uint16_t rail)
{
    static char path[KR_CONFIG_PATH_MAX + 32];
    for (unsigned i = 1; i <= FILES_MAX; i++) {
        snprintf(path, sizeof path, "%s-readings-rail%u-%u.csv", c->stem, rail + 1u, i);
        if (access(path, F_OK) != 0)
            break;
    }
    job.path = path;
    if (job.n == 0 || calibrate_keep(&job, path))
        return true;
    c->failed = true;
    return false;
}

static bool ask_readings(struct commission *c, uint16_t rail)
{
    static char answer[COMMISSION_LINE_MAX];
    for (;;) {
        memset(&job, 0, sizeof job);
        if (!commission_ask_text(
                c, answer,
                "Readings of rail %u: type jog to take them now, or the name of a file as kniferail calibrate reads "
                "it, whose targets are places that the station showed with the frame that it has now.",
                rail + 1u))
            return false;
        if (strcmp(answer, "jog") == 0)
            return take_readings(c, rail) && keep(c, rail);
        job.path = answer;
        if (calibrate_read(&job))
            return true;
    }
}

static bool ask_instrument(struct commission *c)
{
    int32_t zero_um, metre_um;
    if (!commission_ask_um(c, &zero_um,
                           "What is the standard uncertainty of the instrument's zero, and of reading it? It is half "
                           "of what a certificate states with the factor 2.") ||
        !commission_ask_um(c, &metre_um, "And of a metre of its length?"))
        return false;
    job.instrument = (struct kr_instrument){abs(zero_um) / 1000.0, abs(metre_um) / 1e6};
    return true;
}

/* At 20 C no coefficient is needed. */
static bool ask_temperature(struct commission *c)
{
    double celsius = REFERENCE_CELSIUS, ppm = STEEL_PPM;
    if (!commission_ask_number(c, &celsius, CALIBRATE_CELSIUS_LEAST, CALIBRATE_CELSIUS_MOST,
                               "How warm was the instrument during the readings, in degrees Celsius? Enter means 20: "
                               "the readings count as they are, as those of an instrument that corrects them itself."))
        return false;
    if (celsius != REFERENCE_CELSIUS &&
        !commission_ask_number(c, &ppm, CALIBRATE_COEFFICIENT_LEAST, CALIBRATE_COEFFICIENT_MOST,
                               "By how many parts per million does the instrument grow for each kelvin? Its "
                               "certificate says it; Enter means %g, which is steel. The readings are brought to "
                               "20 C by it.",
                               STEEL_PPM))
        return false;
    job.celsius = celsius;
    job.per_kelvin = ppm / 1e6;
    job.is_corrected = celsius != REFERENCE_CELSIUS;
    return true;
}

/* ---- the step -------------------------------------------------------------------------------------------------- */

bool commission_walk_CALIBRATION(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    static struct kr_calibration_seen seen; /* large */
    const struct kr_geometry *geometry = &c->station->station.geometry;
    if (!ask_readings(c, rail) || !ask_instrument(c) || !ask_temperature(c))
        return false;
    job.rail = (uint16_t)(rail + 1);
    job.address = c->address;
    if (!calibrate_frame_in_force(&job)) {
        c->failed = true;
        return false;
    }
    seen = (struct kr_calibration_seen){.rail_number = (uint16_t)(rail + 1),
                                        .file = job.path,
                                        .instrument = job.instrument,
                                        .is_corrected = job.is_corrected,
                                        .celsius = job.celsius,
                                        .per_kelvin = job.per_kelvin,
                                        .in_force = job.before,
                                        .least_um = geometry->rail[rail].min_um,
                                        .most_um = geometry->rail[rail].max_um,
                                        .tolerance_um = geometry->tolerance_um};
    calibrate_bring_to_20(&job);
    /* Without readings the result is all 0. */
    (void)kr_calibrate(job.reading, job.n, job.instrument, &seen.left);
    job.model = KR_N_MODELS;
    seen.impossible = job.n > 0 && !calibrate_work_out(&job);
    seen.to_set = calibrate_to_set(&job);
    seen.bad_point = job.bad_point;
    kr_judge_calibration(&seen, verdict);
    return true;
}
