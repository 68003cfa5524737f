/* kniferail calibrate: between its own files. */
#ifndef KNIFERAIL_CLI_CALIBRATE_CMD_H
#define KNIFERAIL_CLI_CALIBRATE_CMD_H

#include <jansson.h>

#include "kniferail/calibration.h"
#include "kniferail/client.h"
#include "kniferail/frame.h"

struct kr_picture_options; /* picture.h */

struct calibrate_job {
    const char *path;
    size_t n;
    struct kr_reading reading[KR_CALIBRATION_READINGS_MAX];
    bool is_corrected; /* for the instrument's temperature */
    double celsius, per_kelvin;
    struct kr_instrument instrument;
    bool applies;  /* what is found is set at the station that runs, */
    uint16_t rail; /* for this rail of it, from 1 */
    struct kr_client_address address;
    struct kr_frame before; /* in which the targets are told; all 0: they are the drive's positions */
    int32_t expansion_ppb;  /* of the frame at the station that runs, which is part of it */
    struct kr_calibration result;
    enum kr_calibration_model model; /* whose settings are printed */
    struct kr_frame frame;           /* they */
    uint16_t bad_point; /* of its table, which breaks a limit of the station file; 0: none does */
    enum kr_iso_lack iso_lack;
    unsigned iso_has, iso_needs;
    struct kr_iso_axis iso; /* where nothing lacks */
};

/* Where a carriage is sent when readings are typed in: growing. */
struct calibrate_targets {
    uint16_t n, runs; /* runs from the lowest to the highest and back */
    int64_t nm[KR_CALIBRATION_TARGETS_MAX];
};

/* Reads a reading a line from standard input, in the sequence of the runs; asks for each one where standard input is a
 * terminal, and once more for one that it can't take. False after telling why nothing is taken. */
bool calibrate_type_in(struct calibrate_job *job, const struct calibrate_targets *targets, const char *unit);

/* Writes the readings into a new file, as calibrate_read() takes them. False after telling why it can't. */
bool calibrate_keep(const struct calibrate_job *job, const char *path);

/* Reads the file. False: each bad row was told, by file, line, column, value and limit, and nothing is taken. */
bool calibrate_read(struct calibrate_job *job);

/* The frame that the station has for the rail becomes the one in which the targets are told. False after telling why
 * not. */
bool calibrate_frame_in_force(struct calibrate_job *job);

/* What is to be set at the station that runs: the result's frame, at 20 C. */
struct kr_frame calibrate_to_set(const struct calibrate_job *job);

/* Brings the readings to the drive's positions and to 20 C, finds the models, and the frame of the one that is taken,
 * or of job->model where it is not KR_N_MODELS. False after telling: no such frame is possible. */
bool calibrate_work_out(struct calibrate_job *job);

/* Sets what was found at the station, and prints what was and what becomes. False after telling why not. */
bool calibrate_apply(const struct calibrate_job *job);

void calibrate_print(const struct calibrate_job *job);
json_t *calibrate_json(const struct calibrate_job *job);

/* Draws the charts that are wanted. False after telling why that can't be done: too few readings, a file. */
bool calibrate_draw(const struct calibrate_job *job, const struct kr_picture_options *options);

/* What jobs 11 and 12 have found of the switch of a rail, from 1; applies: the station is asked to take it. False after
 * telling. */
bool calibrate_measured(const struct kr_client_address *address, uint16_t rail_number, bool applies);

#endif
